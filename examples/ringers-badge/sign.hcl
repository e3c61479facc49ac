# A club badge, 60 mm across, worn with two magnets: a red disc with white wording sunk in it.
# Three colours, two swaps, and one stop to put the magnets in.

edition = 1
include = ["../stock.hcl"]

sign "ringers-badge" {
  title   = "Merrowby Ringers, club badge"
  printer = "bench"

  artwork "badge" {
    file  = "ringers.svg"
    fit   = "page"                  # width and centre are the page's, not the ink's: so the middle
    width = "60mm"                  # of the page is (0, 0), and all the circles below share it
  }

  plate {
    thickness = "17 layers"         # 3.48 mm: leaves 1.2 mm of plate over the magnets
    filament  = "chalk"
    piece "blank" {
      shape = "circle"
      width = "60mm"                # of a circle: the diameter
      at    = ["0mm", "0mm"]
    }
    pocket "magnets" {              # cut from the back, unless it says from = "front"
      diameter = "6.2mm"            # 0.2 mm wider than the magnet, and 0.2 mm deeper
      depth    = "2.2mm"            # goes up to whole layers
      at       = [["-14mm", "0mm"], ["14mm", "0mm"]]
      insert   = "magnet 6 x 2 mm"  # the swap plan stops here, so that they can be pressed in
    }
  }

  raise "disc" {
    piece "round" {                 # a shape without a drawing
      shape = "circle"
      width = "52.4mm"
      at    = ["0mm", "0mm"]
    }
    height   = "3 layers"           # above the plate's top
    filament = "signal-red"
    allow    = ["sharp-tip"]        # between the strokes of letters: shorter tips are as good
  }
  recess "wording" {
    grow  = "-0.15mm"               # finer letters leave bars that can be printed between their strokes
    pick  = "#club, #craft, #studs"
    into  = "disc"                  # sunk from the disc's top…
    depth = "3 layers"              # …down to the white plate, which shows at the bottom
  }
  raise "bell" {
    pick     = "#bell .gold, #bell .stay"
    over     = "disc"               # stands on the disc…
    step     = "3 layers"           # …this much higher
    filament = "gold"
    allow    = ["sharp-tip"]        # what the bands leave at the bell's edge
  }
  recess "bands" {
    pick  = "#bands"
    into  = "bell"
    depth = "3 layers"              # as deep as the bell is thick: the red disc shows
  }
  raise "rim" {
    piece "edge" {
      shape  = "plate"              # the plate's own outline…
      margin = "-0.4mm"             # …a little in from its edge…
      ring   = "1.8mm"              # …and of that only the outer band
    }
    height   = "6 layers"           # level with the bell, so it costs no swap of its own
    filament = "gold"
  }
}
