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

filament "chalk" {
  material   = "PLA"
  colour     = "#f7f4ec"
  price      = "19.50 per kg"
  spool_left = "510g"
}

filament "signal-red" {
  material   = "PLA"
  colour     = "#b3262b"
  price      = "21.00 per kg"
  spool_left = "260g"
  cover      = "0.4mm"
}

filament "gold" {
  material   = "PLA"
  colour     = "#d9a335"
  price      = "23.50 per kg"
  spool_left = "190g"
  cover      = "0.6mm"
}

# Weatherproof, for signs that hang outdoors.
filament "asa-harbour" {
  material   = "ASA"
  colour     = "#1f3a4d"
  price      = "29.00 per kg"
  spool_left = "830g"
}

filament "asa-brass" {
  material   = "ASA"
  colour     = "#c9963c"
  price      = "31.00 per kg"
  spool_left = "150g"
  cover      = "0.6mm"
}

filament "asa-ivory" {
  material   = "ASA"
  colour     = "#f3ead6"
  price      = "29.00 per kg"
  spool_left = "420g"
  cover      = "0.6mm"
}

printer "bench" {
  bed          = ["250mm", "210mm", "200mm"]
  nozzle       = "0.4mm"
  layer_height = "0.2mm"
  first_layer  = "0.28mm"
}

# A wider bed, but a plain square one: longer signs go on it from corner to corner.
printer "square" {
  bed          = ["260mm", "260mm", "250mm"]
  nozzle       = "0.4mm"
  layer_height = "0.2mm"
  first_layer  = "0.2mm"
  foot         = "0.15mm"           # the first layer spreads a little: draw it in
}

# Holds four spools at once, so that colour is free of height.
printer "quartet" {
  bed          = ["220mm", "220mm", "220mm"]
  nozzle       = "0.4mm"
  layer_height = "0.2mm"
  first_layer  = "0.2mm"
  loaded       = 4
}
