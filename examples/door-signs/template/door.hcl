# A template: a door sign with blanks. It is a manifest like any other, with fields and one sign.
# ../sign.hcl fills it in, once for every room. To try it by itself:
#
#   relievo compile --set room=Larder --set art=examples/door-signs/art/larder.svg examples/door-signs/template/door.hcl

edition = 1
include = ["../../stock.hcl"]       # a template sees only what it includes itself

field "room" {
  kind  = "text"
  max   = 24
  about = "what the room is called"
}

field "art" {
  kind  = "text"
  about = "a drawing with a #figure and a #name"
}

field "width" {
  kind    = "length"
  default = "90mm"
  min     = "60mm"
  max     = "160mm"
  about   = "of figure and name together"
}

field "figure" {
  kind    = "choice"
  choices = ["teal", "rust"]
  default = "teal"
  about   = "the filament of the figure"
}

field "screws" {
  kind    = "yes_no"
  default = true
  about   = "no: the sign is glued"
}

let {
  margin = max(7, round(field.width / 12))  # in mm: lengths are numbers in expressions
  corner = let.margin - 2
}

sign "door" {
  title   = "Weir Cottage, ${lower(field.room)}${field.screws ? "" : ", glued"}"
  printer = "bench"

  artwork "room" {
    file  = field.art               # relative to the file that wrote the value
    width = field.width
  }

  plate {
    thickness = "10 layers"         # 2.08 mm: the first layer of this printer is thicker
    filament  = "chalk"
    piece "ground" {
      shape  = "rectangle"
      margin = let.margin
      corner = let.corner
    }
    hole "screws" {
      when     = field.screws
      diameter = "3mm"
      corners  = "4.5mm"
    }
  }

  raise "figure" {
    pick     = "#figure"
    height   = "3 layers"
    filament = field.figure
  }
  raise "name" {
    pick       = "#name"
    height     = "6 layers"
    filament   = "slate"
    round_tips = "0.3mm"            # a "y" has them
  }
}
