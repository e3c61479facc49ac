package lang

import "testing"

// TestTwinAdvice: what follows a value in a fix, in words, stays words.
func TestTwinAdvice(t *testing.T) {
	for native, want := range map[string]string{
		`thicken = "0.9 mm" in raise "crest"`:                                                `"thicken": "0.9 mm" in raise "crest"`,
		`drop_specks = "0.9 mm" in raise "a"; or thicken = "0.9 mm" in raise "a" keeps it`:   `"drop_specks": "0.9 mm" in raise "a"; or thicken = "0.9 mm" in raise "a" keeps it`,
		`font = ["FILE"] in the artwork block, or turn the text into outlines before saving`: `"font": ["FILE"] in the artwork block, or turn the text into outlines before saving`,
		`width = "120mm"`:           `"width": "120mm"`,
		`title = "one in three"`:    `"title": "one in three"`,
		`title = "say \" in words"`: `"title": "say \" in words"`,
	} {
		if got := twinFix(native); got != want {
			t.Errorf("%s gives %s, want %s", native, got, want)
		}
	}
}
