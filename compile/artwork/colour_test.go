package artwork

import (
	"math"
	"testing"
)

// CSS Color 4: hex notation (section 5.2), rgb() (5.1), hsl() (7), hwb() (8), names (6.1),
// with examples from those sections.
func TestColours(t *testing.T) {
	for s, want := range map[string]rgba{
		"#0f0":                         {0, 255, 0, 1},
		"#0F08":                        {0, 255, 0, 136.0 / 255},
		"#00ff00":                      {0, 255, 0, 1},
		"#00ff0080":                    {0, 255, 0, 128.0 / 255},
		"RebeccaPurple":                {0x66, 0x33, 0x99, 1},
		"transparent":                  {0, 0, 0, 0},
		"rgb(255, 128, 0)":             {255, 128, 0, 1},
		"rgb(255 128 0)":               {255, 128, 0, 1},
		"RGBA(255,128,0,.5)":           {255, 128, 0, 0.5},
		"rgb(255 128 0 / 50%)":         {255, 128, 0, 0.5},
		"rgb(100%,50%,0%)":             {255, 128, 0, 1},
		"rgb(300, -5, 127.5)":          {255, 0, 128, 1},
		"rgb(none 50% 10)":             {0, 128, 10, 1},
		"rgb(1e2 0 0)":                 {100, 0, 0, 1},
		"rgb(0 0 0 / 7)":               {0, 0, 0, 1},
		"rgb( 1 , 2 , 3 )":             {1, 2, 3, 1},
		"rgb(1,2,3":                    {1, 2, 3, 1}, // closed by the end: CSS Syntax 3, 5.4.8
		"hsl(120deg 100% 50%)":         {0, 255, 0, 1},
		"hsl(120, 100%, 25%)":          {0, 128, 0, 1},
		"hsl(120 100% 75%)":            {128, 255, 128, 1},
		"hsl(120 75% 75%)":             {143, 239, 143, 1},
		"hsl(-240 100 50)":             {0, 255, 0, 1},
		"hsl(.333333333turn 100% 50%)": {0, 255, 0, 1},
		"hsl(133.333333grad 100% 50%)": {0, 255, 0, 1},
		"hsl(2.0943951rad 100% 50%)":   {0, 255, 0, 1},
		"hsl(39 100% 50%)":             {255, 166, 0, 1}, // near orange
		"hsla(0,0%,50%,0.25)":          {128, 128, 128, 0.25},
		"hsl(1e30 100% 50%)":           {255, 0, 0, 1},
		"hwb(150 20% 10%)":             {51, 230, 140, 1},
		"hwb(45 40% 80%)":              {85, 85, 85, 1},
		"hwb(0 0% 0% / .5)":            {255, 0, 0, 0.5},
	} {
		toks, _ := newTokens(s).until()
		got, took, how := parseColour(toks)
		if how != valid || took != len(toks) || got.r != want.r || got.g != want.g || got.b != want.b || math.Abs(got.alpha-want.alpha) > 1e-12 {
			t.Errorf("%s: %+v %v, want %+v", s, got, how, want)
		}
	}
	for s, want := range map[string]outcome{
		"#12": invalid, "#12345": invalid, "#ggg": invalid, "#": invalid, "#123456789": invalid, "bleu": invalid, "12": invalid,
		"rgb(1,2)": invalid, "rgb(1,2,3,4,5)": invalid, "rgb(1 2,3)": invalid, "rgb(1,,2,3)": invalid, "rgb(1,2,3,)": invalid,
		"rgb(1,2,3/4)": invalid, "rgb(1 2 3 4)": invalid, "rgb(1 2 3 /)": invalid, "rgb(1px 2 3)": invalid, "rgb(1%,2,3)": invalid,
		"rgb(a,b,c)": invalid, "rgb()": invalid, "hsl(1,2,3)": invalid, "hsl(10% 2% 3%)": invalid, "hsl(1kg 2% 3%)": invalid,
		"rgb(none,1,2)": invalid, "hwb(1,2%,3%)": invalid, "foo(1,2,3)": invalid,
		"color(rec2020 1 0 0)": unread, "color-mix(in oklab, red, blue)": unread, "CanvasText": unread,
		"rgb(from red r g b)": unread, "rgb(calc(1) 2 3)": unread,
	} {
		toks, _ := newTokens(s).until()
		got, took, how := parseColour(toks)
		if how == valid && took != len(toks) {
			how = invalid
		}
		if how != want {
			t.Errorf("%s: %+v %d, want %d", s, got, how, want)
		}
	}
}

// CSS Color 4, section 6.1, lists 148 names; grey and gray are the same; samples of the
// table from memory.
func TestColourNames(t *testing.T) {
	if len(namedColours) != 148 {
		t.Errorf("%d names", len(namedColours))
	}
	for _, s := range []string{"", "dark", "darkslate", "dim", "light", "lightslate", "slate"} {
		if namedColours[s+"gray"] != namedColours[s+"grey"] {
			t.Errorf("%sgray differs from %sgrey", s, s)
		}
	}
	for name, want := range map[string]uint32{"red": 0xff0000, "green": 0x008000, "aqua": namedColours["cyan"], "magenta": namedColours["fuchsia"],
		"tomato": 0xff6347, "peru": 0xcd853f, "gold": 0xffd700, "navy": 0x80, "yellowgreen": 0x9acd32, "aliceblue": 0xf0f8ff} {
		if namedColours[name] != want {
			t.Errorf("%s: %06x", name, namedColours[name])
		}
	}
	if c := (rgba{0x0a, 0xb0, 0xff, 1}); c.hex() != "#0ab0ff" {
		t.Error(c.hex())
	}
}
