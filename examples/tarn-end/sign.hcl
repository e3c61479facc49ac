# The jetty plaque of Tarn End boat hire: four colours, three swaps.

edition = 1
include = ["../stock.hcl"]

sign "tarn-end" {
  title   = "Tarn End boat hire, jetty plaque"
  printer = "bench"

  artwork "plaque" {
    file  = "tarn-end.svg"
    width = "180mm"                 # finished width of all picked ink together
  }

  plate {
    thickness = "12 layers"         # 2.48 mm: the first layer of this printer is 0.28 mm
    filament  = "slate"
    piece "board" {
      shape  = "rectangle"
      margin = "9mm"                # from the ink to the plate's edge
      corner = "5mm"
    }
    hole "screws" {
      diameter = "4.5mm"            # clears an M4 screw
      corners  = "5mm"              # centres this far from both edges
    }
  }

  raise "water" {
    pick     = "#waves"
    height   = "3 layers"           # above the plate's top
    filament = "teal"
  }
  raise "boat" {
    pick       = "#boat"
    height     = "6 layers"
    filament   = "rust"
    round_tips = "1 line"           # bow, stern and oar end in tips that no nozzle can follow
  }
  recess "gunwale" {
    pick  = "#gunwale"
    into  = "boat"
    depth = "2 layers"              # a groove in the hull; its floor shows the rust below
  }
  raise "lettering" {
    pick     = ".letter"
    height   = "9 layers"
    filament = "cream"
  }
}
