# The shelf and the printers, shared by every example. All prices are invented.

filament "slate" {
  material   = "PLA"
  colour     = "#33424d"
  price      = "19.50 per kg"
  spool_left = "720g"
}

filament "teal" {
  material   = "PLA"
  colour     = "#2f7f86"
  price      = "21.00 per kg"
  spool_left = "310g"
}

filament "rust" {
  material   = "PLA"
  colour     = "#b5482e"
  price      = "21.00 per kg"
  spool_left = "55g"
}

filament "cream" {
  material   = "PLA"
  colour     = "#f4ead2"
  price      = "20.00 per kg"
  spool_left = "400g"
  cover      = "0.6mm"              # light over dark needs three layers to hide it
}

printer "bench" {
  bed          = ["250mm", "210mm", "200mm"]
  nozzle       = "0.4mm"
  layer_height = "0.2mm"
  first_layer  = "0.28mm"
}
