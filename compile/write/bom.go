package write

import (
	"bufio"
	"io"
	"strings"

	"relievo/compile/price"
)

type bomFile struct {
	Format   string     `json:"format"`
	Currency *string    `json:"currency"`
	Items    []bomItem  `json:"items"`
	Cost     *string    `json:"cost"`
	Prices   []bomPrice `json:"prices"`
	PrintMin number     `json:"print_min"`
}

type bomItem struct {
	Kind      string  `json:"kind"`
	Name      string  `json:"name"`
	Quantity  number  `json:"quantity"`
	Unit      string  `json:"unit"`
	UnitPrice *string `json:"unit_price"`
	Cost      *string `json:"cost"`
}

type bomPrice struct {
	Quantity int    `json:"quantity"`
	Each     string `json:"each"`
	Total    string `json:"total"`
}

// billFile is the bill as both files tell it. Money is a decimal string, null if not
// known; quantities are to 0.00001 of their unit.
func billFile(b *price.BOM) bomFile {
	out := bomFile{Format: "relievo-bom/1", Currency: known(b.Currency), Items: []bomItem{}, Cost: known(b.Cost), Prices: []bomPrice{}, PrintMin: minutes(b.PrintMin)}
	for _, i := range b.Items {
		out.Items = append(out.Items, bomItem{i.Kind, i.Name, round(i.Quantity, 100_000), i.Unit, known(i.UnitPrice), known(i.Cost)})
	}
	for _, p := range b.Prices {
		out.Prices = append(out.Prices, bomPrice{p.Quantity, p.Each, p.Total})
	}
	return out
}

// known is nil for a text that stands for "not known".
func known(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// writeBOMCSV writes the lines of the bill as comma-separated values by RFC 4180: lines
// end in CR LF, the last one too; the first line is the header; a field with a comma,
// quote or line break is quoted. The columns are the keys of an item in S.bom.json. A
// field that is not known is empty. UTF-8 without a byte order mark. What goes into a
// pocket is named in free text, which a spreadsheet might take for a formula: such a field
// begins with an apostrophe (common practice, no source). Other names are labels, which
// begin with a letter.
func writeBOMCSV(w io.Writer, f bomFile) error {
	b := bufio.NewWriter(w) // its first error is kept until Flush
	line := func(fields ...string) {
		for i, s := range fields {
			if i > 0 {
				_ = b.WriteByte(',')
			}
			_, _ = b.WriteString(csvField(s))
		}
		_, _ = b.WriteString("\r\n")
	}
	text := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	line("kind", "name", "quantity", "unit", "unit_price", "cost")
	for _, i := range f.Items {
		line(i.Kind, i.Name, show(i.Quantity), i.Unit, text(i.UnitPrice), text(i.Cost))
	}
	return b.Flush()
}

func csvField(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		s = "'" + s
	}
	if strings.ContainsAny(s, ",\"\r\n") {
		return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	return s
}
