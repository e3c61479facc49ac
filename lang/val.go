package lang

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"github.com/zclconf/go-cty/cty"

	"relievo/lang/note"
)

// valueSort is the sort of thing that an expression comes to.
type valueSort uint8

const (
	sNull valueSort = iota
	sText
	sNumber
	sYesNo
	sList
	sMap
)

// val is what an expression comes to. It remembers where it was written, since a path is
// relative to the file that names it however far it was carried.
type val struct {
	sort  valueSort
	yes   bool
	text  string
	num   *big.Float // finite, of precision floatBits
	list  []val      // of a list; of a map the values, in the order of keys
	keys  []string   // of a map, in the order of bytes
	keyAt []*note.Range
	lost  bool        // of a map's value: it could not be worked out, which was told
	at    *note.Range // where it was written: the literal, or the expression that made it
}

// floatBits is the precision of numbers, that of HCL's literals: sums and products of a
// few measures are exact in it.
const floatBits = 512

func newFloat() *big.Float { return new(big.Float).SetPrec(floatBits) }

func textVal(s string, at *note.Range) val {
	return val{sort: sText, text: cty.NormalizeString(s), at: at}
}
func yesNoVal(b bool, at *note.Range) val        { return val{sort: sYesNo, yes: b, at: at} }
func numberVal(x *big.Float, at *note.Range) val { return val{sort: sNumber, num: x, at: at} }
func listVal(list []val, at *note.Range) val     { return val{sort: sList, list: list, at: at} }
func (v val) isText() bool                       { return v.sort == sText }
func (v val) isNumber() bool                     { return v.sort == sNumber }
func (v val) isYesNo() bool                      { return v.sort == sYesNo }
func intVal(n int64, at *note.Range) val         { return numberVal(newFloat().SetInt64(n), at) }
func (v val) where(otherwise note.Range) note.Range {
	if v.at == nil {
		return otherwise
	}
	return *v.at
}

// mapVal makes a map; of keys given twice the last stands.
func mapVal(keys []string, values []val, keyAt []*note.Range, at *note.Range) val {
	order := make([]int, len(keys))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(keys[a], keys[b]) })
	out := val{sort: sMap, at: at}
	for _, i := range order {
		if n := len(out.keys); n > 0 && out.keys[n-1] == keys[i] {
			out.list[n-1], out.keyAt[n-1] = values[i], keyAt[i]
			continue
		}
		out.keys, out.list, out.keyAt = append(out.keys, keys[i]), append(out.list, values[i]), append(out.keyAt, keyAt[i])
	}
	return out
}

// find returns what a map has under a key.
func (v val) find(key string) (val, bool) {
	i, ok := slices.BinarySearch(v.keys, key)
	if !ok || v.sort != sMap {
		return val{}, false
	}
	return v.list[i], true
}

// String says what a value is, with its article.
func (s valueSort) String() string {
	return [...]string{"null", "a text", "a number", "true or false", "a list", "a map { ... }"}[s]
}

func typeName(v val) string { return v.sort.String() }

// shownDecimals is how many decimals a number gets in a text: a thousandth of what lengths
// are kept in.
const shownDecimals = 9

// number writes a number as a text shows it: in decimals, at most nine of them. The
// number's size is bounded, so its digits are.
func numberText(x *big.Float) string {
	s := x.Text('f', shownDecimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// asText is a value in a text: what ${...} puts there.
func (v val) asText() (string, bool) {
	switch v.sort {
	case sText:
		return v.text, true
	case sNumber:
		return numberText(v.num), true
	case sYesNo:
		return fmt.Sprint(v.yes), true
	}
	return "", false
}

// written is a value as it is typed.
func (v val) written() string {
	if v.isText() {
		return strconv.Quote(clip(v.text))
	}
	if s, ok := v.asText(); ok {
		return s
	}
	return "..."
}
