package compile

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"relievo/lang/note"
)

// A first manifest compiles as it stands, whatever the drawing, without an error, and
// leaves no ink that nobody picks.
func TestStartCompiles(t *testing.T) {
	drawings := map[string]string{}
	found, err := filepath.Glob("../examples/*/*.svg")
	if err != nil || len(found) < 5 {
		t.Fatal(found, err)
	}
	for _, f := range found {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		drawings[filepath.Base(f)] = string(data)
	}
	for name, svg := range map[string]string{
		"one.svg":              redBox,
		"two.svg":              twoBox,
		"inside.svg":           boxInit,
		"board.svg":            `<rect id="bg" width="100" height="60" fill="#123"/>` + twoBox,
		"round board.svg":      `<circle cx="30" cy="25" r="24" fill="#fff"/>` + boxInit,
		"same paint twice.svg": `<rect width="100" height="60" fill="#fff"/>` + redBox + `<rect x="15" y="12" width="4" height="4" fill="#fff"/>`,
		"a paint near it.svg":  `<rect width="100" height="60" fill="#fff"/>` + redBox + `<rect x="15" y="12" width="4" height="4" fill="#fff"/><rect x="50" y="12" width="4" height="4" fill="#fefefe"/>`,
		"beyond the board.svg": `<rect width="40" height="30" fill="#123"/>` + twoBox,
		"near colours.svg":     redBox + `<rect x="40" y="10" width="9" height="9" fill="#c80403"/>`,
		"gradient.svg":         `<linearGradient id="g"><stop stop-color="red"/></linearGradient><rect x="5" y="5" width="20" height="20" fill="url(#g)"/>` + redBox,
		"stroke.svg":           `<path id="wave" d="M5 30h60" stroke="#08f" stroke-width="3"/>`,
		"copies.svg":           `<defs>` + redBox + `</defs><use href="#a"/><use href="#a" x="30"/>`,
		"1 odd -- näme.svg":    redBox,
	} {
		drawings[name] = workedSVG(svg)
	}
	drawings["no size.svg"] = strings.Replace(workedSVG(twoBox), `width="100mm" height="60mm"`, "", 1)
	for name, svg := range drawings {
		t.Run(name, func(t *testing.T) {
			text, notes := Start(name, name, []byte(svg))
			if notes.HasErrors() {
				t.Fatal(notesText(notes))
			}
			again, _ := Start(name, name, []byte(svg))
			if text != again {
				t.Error("two runs differ")
			}
			res := compileText(t, text, map[string]string{name: svg})
			if len(res.Signs) != 1 || res.Signs[0].Model == nil {
				t.Fatalf("does not compile:%s\n%s", notesText(res.Notes), text)
			}
			for _, n := range res.Notes {
				if n.Code == note.UnpickedInk || n.Code == note.Snapped || n.Code == note.ShowThrough || n.Code == note.HiddenPart {
					t.Errorf("%s: %s\n%s", n.Summary, n.Detail, text)
				}
			}
			for _, v := range res.Signs[0].Model.Views {
				if v.AreaMM2 <= 0 {
					t.Errorf("nothing of %s shows\n%s", v.Name, text)
				}
			}
		})
	}
}

// What a first manifest says of a drawing with a board: that shape is the plate, ink of the
// board's own paint is told apart, near colours are one.
func TestStartBoard(t *testing.T) {
	svg := workedSVG(`<rect id="bg" width="100" height="60" fill="#fff"/>` + redBox + `<rect x="15" y="12" width="4" height="4" fill="#fff"/><rect x="40" y="10" width="9" height="9" fill="#c80403"/>`)
	text, _ := Start("sign.svg", "sign.svg", []byte(svg))
	for _, want := range []string{`shape = "artwork"`, `pick  = "#bg"`, `pick     = ":not(#bg, :has(#bg))"`, `paint    = ["#cc0000", "#c80403"]`, `scale = 1`} {
		if !strings.Contains(text, want) {
			t.Errorf("no %s in\n%s", want, text)
		}
	}
	for name, bad := range map[string]string{"nothing painted": workedSVG(`<rect width="5" height="5" fill="none"/>`), "no SVG": "hello", "broken": "<svg><rect"} {
		if text, notes := Start("x.svg", "x.svg", []byte(bad)); text != "" || !notes.HasErrors() {
			t.Errorf("%s: %q, %s", name, text, notesText(notes))
		}
	}
}

// FuzzStart: whatever the drawing, no panic, and a manifest or an error.
func FuzzStart(f *testing.F) {
	f.Add(workedSVG(twoBox))
	f.Add(workedSVG(`<use href="#a"/><symbol id="a"><rect width="1" height="1"/></symbol>`))
	f.Add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><clipPath id="c"><circle r="3"/></clipPath><path clip-path="url(#c)" d="M0 0h5v5z"/></svg>`)
	f.Fuzz(func(t *testing.T, svg string) {
		if len(svg) > 4096 {
			return
		}
		text, notes := Start("a.svg", "a.svg", []byte(svg))
		if (text == "") != notes.HasErrors() {
			t.Fatalf("%q with %s", text, notesText(notes))
		}
	})
}
