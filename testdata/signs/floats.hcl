# Exercises every place where binary fractions could differ between machines: turns,
# skews, arcs, strokes under a stretched pen, round joins, hulls, enclosing circles.

edition = 1

filament "grey" {
  material = "PETG"
  colour   = "slategray"
  price    = "22.35 per kg"
}
filament "red" {
  material   = "PETG"
  colour     = "#b33"
  price      = "24.10 per kg"
  spool_left = "18.5g"
  cover      = "0.5mm"
}
filament "green" {
  material = "PETG"
  colour   = "#3c8844"
}

printer "odd" {
  nozzle       = "0.4mm"
  layer_height = "0.17mm"
  first_layer  = "0.23mm"
}

sign "floats" {
  printer = "odd"
  artwork "a" {
    file  = "floats.svg"
    width = "7 3/16 in"
    turn  = "11.7deg"
  }
  plate {
    thickness = "2mm"
    filament  = "grey"
    blend     = "3.3mm"
    piece "round" {
      shape  = "circle"
      around = ["discs"]
      margin = "3.7mm"
    }
    piece "hull" {
      shape  = "hull"
      around = ["lines"]
      margin = "4.1mm"
    }
    piece "rest" {
      shape  = "outline"
      margin = "5.9mm"
    }
    hole "h" {
      diameter = "0.17in"
      at       = ["1mm", "2.2mm"]
    }
  }
  raise "discs" {
    pick     = "#discs"
    height   = "1.1mm"
    filament = "red"
  }
  raise "lines" {
    paint    = "#224455"
    height   = "0.6mm"
    filament = "green"
  }
  raise "leaf" {
    pick     = "#leaf"
    over     = "discs"
    step     = "2 layers"
    filament = "green"
  }
}
