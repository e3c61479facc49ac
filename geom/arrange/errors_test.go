package arrange

import (
	"errors"
	"math"
	"testing"

	"relievo/geom/grid"
)

func point(x, y int32) grid.Point { return grid.Point{X: x, Y: y} }

func TestErrors(t *testing.T) {
	const far = grid.MaxCoord + 1
	triangle := func(l int32, a, b, c grid.Point) []Segment { return AppendRing(nil, grid.Ring{a, b, c}, l) }
	for _, c := range []struct {
		name string
		segs []Segment
		want error
	}{
		{"right of the grid", triangle(0, point(0, 0), point(far, 0), point(0, 9)), &RangeError{point(far, 0)}},
		{"below the grid", triangle(0, point(0, 0), point(9, -far), point(0, 9)), &RangeError{point(9, -far)}},
		{"the smallest integer", triangle(0, point(0, 0), point(9, math.MinInt32), point(0, 9)), &RangeError{point(9, math.MinInt32)}},
		{"the largest integer", triangle(0, point(math.MaxInt32, math.MaxInt32), point(9, 0), point(0, 9)), &RangeError{point(math.MaxInt32, math.MaxInt32)}},
		{"a negative label", triangle(-1, point(0, 0), point(9, 0), point(0, 9)), &LabelError{-1}},
		{"an open path", triangle(3, point(0, 0), point(9, 0), point(0, 9))[:2], &OpenError{3, point(0, 0)}},
		{"closed only by another label", append(triangle(3, point(0, 0), point(9, 0), point(0, 9))[:2], Segment{point(0, 9), point(0, 0), 4}), &OpenError{3, point(0, 0)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, f := range []func([]Segment) (*Arrangement, error){Arrange, Stable} {
				a, err := f(c.segs)
				if a != nil || err == nil || err.Error() != c.want.Error() {
					t.Errorf("arrangement %v, error %v, want %v", a, err, c.want)
				}
			}
		})
	}
	t.Run("at the limit", func(t *testing.T) {
		const m = grid.MaxCoord
		a, err := Arrange(AppendRing(nil, grid.Ring{point(-m, -m), point(m, -m), point(m, m), point(-m, m)}, 0))
		if err != nil {
			t.Fatal(err)
		}
		if got, want := a.Areas2([]int32{-1, 0}, 1)[0], grid.Mul64(2*m, 4*m); got != want {
			t.Errorf("twice the area is %v, want %v", got, want)
		}
	})
	t.Run("too few labels", func(t *testing.T) {
		a, err := Arrange(triangle(5, point(0, 0), point(9, 0), point(0, 9)))
		if err != nil {
			t.Fatal(err)
		}
		visited := false
		err = a.Walk(5, func(int32) Rule { return NonZero }, func(int32, *Cover) { visited = true })
		var le *LabelError
		if !errors.As(err, &le) || le.Label != 5 || visited {
			t.Errorf("error %v, visited %v", err, visited)
		}
	})
}

func TestEmpty(t *testing.T) {
	for _, c := range []struct {
		name string
		ring grid.Ring
	}{
		{"no points", nil},
		{"a point", grid.Ring{point(3, 4)}},
		{"the same point again", grid.Ring{point(3, 4), point(3, 4), point(3, 4)}},
		{"two points", grid.Ring{point(3, 4), point(30, 40)}},
		{"there and back", grid.Ring{point(3, 4), point(30, 40), point(5, 60), point(30, 40)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, f := range []func([]Segment) (*Arrangement, error){Arrange, Stable} {
				a, err := f(AppendRing(nil, c.ring, 0))
				if err != nil {
					t.Fatal(err)
				}
				if len(a.Points) != 0 || len(a.Edges) != 0 || len(a.First) != 1 || a.Faces != 1 || len(a.Segments()) != 0 {
					t.Errorf("arrangement %+v isn't empty", a)
				}
				top, err := Topmost(a, 1, func(int32) Rule { return NonZero })
				if err != nil || len(top) != 1 || top[0] != -1 {
					t.Errorf("topmost %v, %v", top, err)
				}
				if b := a.Boundaries(top, 2); len(b) != 2 || b[0] != nil || b[1] != nil {
					t.Errorf("boundaries %v", b)
				}
			}
		})
	}
}
