package solid

import "relievo/geom/grid"

// flipsPerTriangle bounds the work of delaunay. Smooth and hard shapes need fewer than
// three; a quadratic case, if someone draws one, ends in triangles that are less well
// shaped but no less valid.
const flipsPerTriangle = 32

// nextSide returns the side after 3t+k in triangle t.
func nextSide(side int32) int32 {
	if side%3 == 2 {
		return side - 2
	}
	return side + 1
}

// delaunay flips diagonals until no triangle has a corner of a neighbour inside its
// circumcircle (C. L. Lawson 1977): of all triangulations that keep the edges of the
// plan, the one whose angles are largest, smallest first. Exact; O(n) flips on usual
// shapes. Ties stay as they are.
func (t *triangulation) delaunay(at []grid.Point) {
	sew := func(side, mate int32) {
		t.mate[side] = mate
		if mate >= 0 {
			t.mate[mate] = side
		}
	}
	left := flipsPerTriangle * len(t.corners)
	var queue []int32
	for start := range int32(len(t.mate)) {
		queue = append(queue[:0], start)
		for len(queue) > 0 {
			pq := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			qp := t.mate[pq]
			if qp < 0 {
				continue
			}
			// Triangles p, q, a and q, p, b.
			qa, pb := nextSide(pq), nextSide(qp)
			ap, bq := nextSide(qa), nextSide(pb)
			i, j := pq/3, qp/3
			p, q, a, b := t.corners[i][pq%3], t.corners[i][qa%3], t.corners[i][ap%3], t.corners[j][bq%3]
			if !inCircle(at[p], at[q], at[a], at[b]) {
				continue
			}
			if left--; left < 0 {
				return
			}
			oqa, oap, opb, obq := t.mate[qa], t.mate[ap], t.mate[pb], t.mate[bq]
			t.corners[i] = [3]int32{a, p, b}
			t.corners[j] = [3]int32{a, b, q}
			sew(3*i, oap)
			sew(3*i+1, opb)
			sew(3*j+1, obq)
			sew(3*j+2, oqa)
			sew(3*i+2, 3*j)
			queue = append(queue, 3*i, 3*i+1, 3*j+1, 3*j+2)
		}
	}
}

// inCircle reports whether d lies strictly inside the circle through a, b and c, which
// turn counter-clockwise. Exact for |coordinate| < 2^29: the determinant of L. Guibas
// and J. Stolfi, ACM Transactions on Graphics 4 (1985), 74-123, is below 2^124.
func inCircle(a, b, c, d grid.Point) bool {
	ax, ay := int64(a.X)-int64(d.X), int64(a.Y)-int64(d.Y)
	bx, by := int64(b.X)-int64(d.X), int64(b.Y)-int64(d.Y)
	cx, cy := int64(c.X)-int64(d.X), int64(c.Y)-int64(d.Y)
	aa, bb, cc := ax*ax+ay*ay, bx*bx+by*by, cx*cx+cy*cy
	bc, ca, ab := bx*cy-by*cx, cx*ay-cy*ax, ax*by-ay*bx
	// |ca| and the like are at most the larger of the two squares, so each product is
	// at most the square of the largest; three of them fit 63 bits up to this.
	const small = 1 << 30
	if aa <= small && bb <= small && cc <= small {
		return aa*bc+bb*ca+cc*ab > 0
	}
	return grid.Mul64(aa, bc).Add(grid.Mul64(bb, ca)).Add(grid.Mul64(cc, ab)).Sign() > 0
}
