# A key tag in the shape of a beach hut, for a printer that holds four spools: three colours side
# by side at one height, and not one swap by hand.

edition = 1
include = ["../stock.hcl"]

sign "gull-steps" {
  title   = "Gull Steps beach huts, key tag of hut 7"
  printer = "quartet"               # loaded = 4: colour is free of height

  artwork "hut" {
    file  = "gull-steps.svg"
    fit   = "page"                  # the page's middle is (0, 0)
    width = "50mm"                  # the tag itself is 44 mm wide
  }

  plate {
    thickness = "2mm"
    filament  = "cream"
    blend     = "2mm"               # softens the corners between hut and ear
    piece "hut" {
      shape = "artwork"             # the outline is a shape of the drawing, whole, whatever is
      pick  = "#tag"                # painted over it
    }
    piece "ear" {
      shape = "circle"
      width = "13mm"
      at    = ["0mm", "31mm"]       # y points up
    }
    hole "ring" {
      diameter = "5mm"
      at       = ["0mm", "31.5mm"]  # goes through plate and collar: a note says so
    }
  }

  # On a printer for one filament at a time, teal and rust could not end on one level.
  raise "border" {
    piece "edge" {
      shape  = "plate"              # follows the hut and its ear…
      margin = "-0.6mm"             # …a little in from the edge…
      ring   = "1.6mm"              # …as a band of this width
    }
    height   = "4 layers"
    filament = "teal"
  }
  raise "collar" {
    piece "washer" {
      shape = "circle"
      width = "11.8mm"
      at    = ["0mm", "31mm"]
    }
    height   = "4 layers"           # written after the border, so it wins where they overlap
    filament = "rust"
  }
  raise "front" {
    pick     = "#roof, #door"
    height   = "4 layers"
    filament = "rust"
  }
  raise "boards" {
    pick       = "#stripes, #gull"
    height     = "4 layers"
    filament   = "teal"
    round_tips = "0.3mm"            # the slanted ends are sharper than the nozzle can follow
  }
  recess "number" {
    pick  = "#number, #knob"
    into  = "front"                 # sunk through the door, down to the plate
    depth = "4 layers"              # for hut 8, draw another number
  }
}
