package artwork

import (
	"encoding/base64"
	"fmt"
	"net/url"
	"strings"

	"relievo/compile/letter"
	"relievo/lang/note"

	"github.com/tdewolff/parse/v2/css"
)

// fontFace is a rule @font-face: CSS Fonts 4, section 4. Only a font that stands in the file
// itself, as a data: address, can be used; nothing outside the file is opened.
type fontFace struct {
	family string
	data   string // what follows "data:"; "" where the font lies elsewhere
	where  note.Range

	tried  bool
	faces  []*letter.Face
	fault  string // why it can't be used
	warned bool
}

const (
	maxFontFaces = 64
	// maxFontText is how much of data: addresses is unpacked for one drawing.
	maxFontText = 24 << 20
)

// fontFace reads the block of a rule; { is the current token.
func (r *sheetReader) fontFace(t *tokens, where note.Range) {
	t.advance()
	f := &fontFace{where: where}
	t.declarations(func(d declaration) {
		switch d.name {
		case "font-family":
			if names, how := parseFamilies(d.value); how == valid && len(names) == 1 {
				f.family = names[0]
			}
		case "src":
			for i, tok := range d.value {
				target := ""
				switch {
				case tok.kind == css.URLToken:
					target = urlTarget(tok.text)
				case tok.kind == css.StringToken && i > 0 && d.value[i-1].kind == css.FunctionToken && strings.EqualFold(d.value[i-1].text, "url("):
					target = unquote(tok.text)
				}
				if rest, ok := strings.CutPrefix(target, "data:"); ok && f.data == "" {
					f.data = rest
				}
			}
		}
	})
	if t.tok.kind == css.RightBraceToken {
		t.advance()
	}
	if f.family != "" && len(r.sheet.fonts) < maxFontFaces {
		r.sheet.fonts = append(r.sheet.fonts, f)
	}
}

// ownFace is the face of the file's own fonts that a family asks for, nil where there is none.
// A font that can't be used is noted where it is asked for.
func (r *reader) ownFace(family string, w letter.Wish) *letter.Face {
	var faces []*letter.Face
	for _, f := range r.styles.sheet.fonts {
		if !strings.EqualFold(f.family, family) {
			continue
		}
		if !f.tried {
			f.tried = true
			f.faces, f.fault = r.unpackFont(f.data)
		}
		faces = append(faces, f.faces...)
		if f.fault != "" && !f.warned && letter.Match(r.given, family, w) == nil {
			f.warned = true
			r.notes.feature(f.where, "@font-face", "@font-face not read",
				fmt.Sprintf("The font %s of the drawing can't be used: %s.", quote(f.family), f.fault), `font = ["FILE"] in the artwork block`)
		}
	}
	return letter.Nearest(faces, w)
}

func (r *reader) unpackFont(data string) ([]*letter.Face, string) {
	if data == "" {
		return nil, "it lies in another file, and nothing outside this file is read"
	}
	head, body, ok := strings.Cut(data, ",")
	if !ok {
		return nil, "its data: address is broken"
	}
	if r.fontText += len(body); r.fontText > maxFontText {
		return nil, fmt.Sprintf("the fonts in this file are longer than %d MB", maxFontText>>20)
	}
	text, err := url.PathUnescape(body)
	if err != nil {
		return nil, "its data: address is broken"
	}
	raw := []byte(text)
	if strings.HasSuffix(strings.TrimSpace(head), "base64") {
		text = strings.Map(func(c rune) rune {
			if isSpace(byte(c)) && c < 0x80 || c == '=' {
				return -1
			}
			return c
		}, text)
		if raw, err = base64.RawStdEncoding.DecodeString(text); err != nil {
			return nil, "its data: address is broken"
		}
	}
	faces, err := letter.Load(raw)
	if err != nil {
		return nil, err.Error()
	}
	return faces, ""
}
