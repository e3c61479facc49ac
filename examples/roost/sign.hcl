# A word that stands free, for the door of a hen house: no plate, so short ties hold the letters,
# and the yolks in their eggs. Three colours, two swaps.

edition = 1
include = ["../stock.hcl"]

sign "roost" {
  title   = "Roost, word for a hen house"
  printer = "bench"

  artwork "word" {
    file  = "roost.svg"
    width = "210mm"                 # finished width of all picked ink together
  }

  # Without a plate every raise stands on the bed, and what does not touch falls apart. Ties are
  # straight bridges between such parts, as few and as short as can be. They ask for no colour.
  ties {
    width  = "4mm"
    height = "8 layers"             # low: they vanish behind the letters
  }

  # Heights are counted from the bed here. Each colour ends on a level of its own, so that one
  # nozzle can print them: red letters lowest, then the white of eggs and hen, then the yolks.
  raise "letters" {
    pick     = "#letters"
    height   = "4.08mm"             # 20 layers: the first is 0.28 mm, the others 0.2 mm
    filament = "rust"
  }
  raise "whites" {
    pick     = "#eggs, #bird"
    height   = "4.88mm"
    filament = "cream"
  }
  raise "yolks" {
    pick       = "#yolks, #comb, #beak, #wing"
    height     = "5.48mm"
    filament   = "gold"
    round_tips = "0.3mm"            # the comb runs out into a tip behind the beak
  }
}
