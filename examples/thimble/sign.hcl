# A shop sign 315 mm long, in plastic that stands the weather: three colours, two swaps.
# It is longer than the bed is wide, so it is printed from corner to corner.

edition = 1
include = ["../stock.hcl"]

sign "thimble" {
  title   = "Thimble, sign of a mending shop"
  printer = "square"                # 260 × 260 mm: a note tells how far to turn the finished sign
                                    # on the bed. That is not the `turn` below: this one turns a
                                    # drawing within the sign.
  artwork "board" {
    file  = "thimble.svg"
    fit   = "page"                  # the page is as large as the sign, its middle is (0, 0)
    width = "315mm"
  }
  artwork "needle" {
    file  = "needle.svg"
    width = "46mm"                  # measured after turning
    turn  = "98deg"                 # counter-clockwise: drawn with its point down, it points right
    at    = ["109mm", "0.5mm"]      # its centre
  }

  plate {
    thickness = "3mm"
    filament  = "asa-harbour"
    blend     = "40mm"              # softens the corners where the two pieces meet
    piece "bar" {
      shape  = "rectangle"
      width  = "315mm"
      height = "30mm"
      corner = "15mm"
      at     = ["0mm", "0mm"]
    }
    piece "middle" {
      shape  = "ellipse"
      width  = "232mm"              # full axes
      height = "50mm"
      at     = ["0mm", "0mm"]
    }
    hole "screw" {
      diameter = "4.5mm"
      head     = "ISO 7046 M4"      # countersunk for this screw; or the diameter of its head
      at       = ["-143mm", "0mm"]
    }
    slot "play" {                   # ASA grows by up to 0.11 mm per metre and degree: between sun
      length = "8mm"                # and frost some 2 mm over this length. One end is screwed fast,
      width  = "4.5mm"              # the other slides: here a pan head with a washer.
      at     = ["143mm", "0mm"]
    }
  }

  raise "rim" {
    piece "band" {
      shape  = "plate"
      margin = "-1.6mm"             # in from the edge
      ring   = "1.4mm"              # width of the band
    }
    height   = "3 layers"
    filament = "asa-brass"
  }
  raise "motifs" {
    artwork  = "board"              # with two artworks, each part says which one it picks from
    pick     = "#trade, #button .button, #thread"
    height   = "3 layers"           # as the rim: one level, one swap
    filament = "asa-brass"
  }
  raise "needle" {
    artwork  = "needle"
    pick     = "#needle"
    height   = "3 layers"
    filament = "asa-brass"
  }
  recess "dish" {
    artwork = "board"
    pick    = "#dish"
    into    = "motifs"              # a groove in the button,
    depth   = "3 layers"            # down to the plate
  }
  raise "name" {
    artwork  = "board"
    pick     = "#name"
    height   = "7 layers"
    filament = "asa-ivory"
  }
}
