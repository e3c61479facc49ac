# Door signs of a holiday house: five rooms, one template. Each sign passes values for the
# template's fields; what it leaves out has a default there.

edition = 1

sign "larder" {
  template = "template/door.hcl"
  values   = {
    room  = "Larder"
    art   = "art/larder.svg"        # as seen from here, not from the template
    width = "88mm"
  }
}

sign "study" {
  template = "template/door.hcl"
  values   = {
    room   = "Study"
    art    = "art/study.svg"
    width  = "3.5in"
    figure = "rust"
  }
}

sign "boots" {
  template = "template/door.hcl"
  title    = "Weir Cottage, boots off here"  # instead of the template's
  values   = {
    room   = "Boot room"
    art    = "art/boots.svg"
    width  = "100mm"
    figure = "rust"
  }
}

sign "bath" {
  template = "template/door.hcl"
  values   = {
    room   = "Bath"
    art    = "art/bath.svg"
    width  = "76mm"
    screws = false                  # tiles: it is glued
  }
}

sign "loft" {
  template = "template/door.hcl"
  values   = {
    room  = "Loft"
    art   = "art/loft.svg"
    width = "80mm"
  }
}
