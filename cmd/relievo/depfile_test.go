package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// makeRules reads the rules of a makefile that has nothing else, by the GNU Make manual:
// "Splitting Lines" (a backslash before a new line is a space), "What Makefiles Contain"
// (\# is no comment), "Rule Syntax" ($$ is a dollar sign; targets end at the colon) and
// "Using Wildcard Characters" (a backslash takes its meaning from the next character); from
// memory.
func makeRules(t *testing.T, text string) (rules []depRule) {
	t.Helper()
	for _, line := range strings.Split(strings.ReplaceAll(text, "\\\n", " "), "\n") {
		var words [2][]string
		side, word, in := 0, "", false
		end := func() {
			if in {
				words[side] = append(words[side], word)
			}
			word, in = "", false
		}
		for i := 0; i < len(line); i++ {
			switch c := line[i]; c {
			case ' ', '\t':
				end()
				continue
			case ':':
				if side == 1 {
					t.Errorf("a second colon in %q", line)
				}
				end()
				side = 1
				continue
			case '\\':
				i++
			case '$':
				if i++; line[i] != '$' {
					t.Errorf("a variable in %q", line)
				}
			case '#', ';', '|', '=', '%':
				if side == 0 || c != '%' {
					t.Errorf("%q means more than itself in %q", c, line)
				}
			}
			word, in = word+line[i:i+1], true
		}
		end()
		if len(words[0]) > 0 {
			rules = append(rules, depRule{words[0], words[1]})
		} else if len(words[1]) > 0 || side > 0 {
			t.Errorf("no target in %q", line)
		}
	}
	return rules
}

func TestDepfile(t *testing.T) {
	odd := []string{"a b.svg", "#art.svg", "$1 $$.svg", "c:d.svg", "art (1).svg", "50%.svg", "né.svg", "~x", "a&b", "[1]*?.svg", `"q'.svg`, "-x"}
	for _, tt := range []struct {
		name        string
		rules, want []depRule
	}{
		{"none", nil, nil},
		{"nothing known", []depRule{{nil, []string{"a.hcl"}}}, nil},
		{"one", []depRule{{[]string{"out/a.stl", "out/a.3mf"}, []string{"a.hcl", "stock.hcl", "a.svg"}}},
			[]depRule{{[]string{"out/a.stl", "out/a.3mf"}, []string{"a.hcl", "stock.hcl", "a.svg"}}, {[]string{"stock.hcl"}, nil}, {[]string{"a.svg"}, nil}}},
		{"two that share", []depRule{{[]string{"a.stl"}, []string{"a.hcl", "stock.hcl"}}, {[]string{"b.stl"}, []string{"b.hcl", "stock.hcl", "a.hcl"}}},
			[]depRule{{[]string{"a.stl"}, []string{"a.hcl", "stock.hcl"}}, {[]string{"b.stl"}, []string{"b.hcl", "stock.hcl", "a.hcl"}}, {[]string{"stock.hcl"}, nil}}},
		{"odd names", []depRule{{[]string{"o u#t/$a.stl"}, odd}}, []depRule{{[]string{"o u#t/$a.stl"}, odd}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			text, err := depfile(tt.rules)
			if err != nil {
				t.Fatal(err)
			}
			got := makeRules(t, text)
			if tt.name == "odd names" {
				if n := len(odd) - 1; len(got) != n { // but for the first and the percent sign
					t.Errorf("%d rules, want %d", len(got), n)
				}
				got = got[:1]
			}
			if !slices.EqualFunc(got, tt.want, func(a, b depRule) bool {
				return slices.Equal(a.targets, b.targets) && slices.Equal(a.inputs, b.inputs)
			}) {
				t.Errorf("%q\nread as %q, want %q", text, got, tt.want)
			}
			for _, line := range strings.Split(text, "\n") {
				if len(line) > 40 {
					t.Errorf("a long line: %q", line)
				}
			}
		})
	}
}

func TestDepfileRefuses(t *testing.T) {
	for _, name := range []string{"", "a\nb", "a\tb", "a;b", "a|b", `a\b`, "a=b", "&", "lib(x)", "a\rb"} {
		if _, err := depfile([]depRule{{[]string{"t"}, []string{"m.hcl", name}}}); err == nil {
			t.Errorf("%q was named", name)
		}
		if _, err := depfile([]depRule{{[]string{name}, []string{"m.hcl"}}}); err == nil {
			t.Errorf("%q was named as a target", name)
		}
	}
	if _, err := depfile([]depRule{{[]string{"50%/a.stl"}, []string{"m.hcl"}}}); err == nil {
		t.Error("a pattern was named as a target")
	}
}

// TestDepfileWhole: a depfile that cannot be written whole leaves the one before.
func TestDepfileWhole(t *testing.T) {
	file := filepath.Join(t.TempDir(), "new", "d")
	good := []depRule{{[]string{"a.stl"}, []string{"a.hcl"}}}
	if err := writeDepfile(file, good); err != nil {
		t.Fatal(err)
	}
	for _, rules := range [][]depRule{nil, {{[]string{"b;c"}, []string{"a.hcl"}}}} {
		writeDepfile(file, rules)
		if data, err := os.ReadFile(file); err != nil || string(data) != "a.stl: \\\n a.hcl\n" {
			t.Errorf("%q, %v", data, err)
		}
	}
}

// TestShellLine: what jobs prints is taken apart by a shell into the words that went in
// (POSIX, Shell Command Language, 2.2).
func TestShellLine(t *testing.T) {
	for _, words := range [][]string{{"relievo", "compile"}, {"", "a b", "it's", "''", `\`, "$HOME", "*", "~", "#x", "a;b", "né", "a=b", "50%"}} {
		line := shellLine(words)
		var got []string
		word, in, quoted := "", false, false
		for i := 0; i <= len(line); i++ {
			switch {
			case i == len(line) || line[i] == ' ' && !quoted:
				if quoted {
					t.Fatalf("a quote is left open in %q", line)
				}
				if in {
					got = append(got, word)
				}
				word, in = "", false
			case line[i] == '\'':
				quoted, in = !quoted, true
			case quoted:
				word += line[i : i+1]
			case line[i] == '\\':
				i++
				word, in = word+line[i:i+1], true
			case strings.IndexByte("|&;<>()$`\"\t*?[#~", line[i]) >= 0:
				t.Errorf("%q means more than itself in %q", line[i], line)
			default:
				word, in = word+line[i:i+1], true
			}
		}
		if !slices.Equal(got, words) {
			t.Errorf("%q becomes %q", words, got)
		}
	}
}
