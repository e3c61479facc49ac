package write

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"hash/crc32"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/klauspost/compress/flate"

	"relievo/compile/stack"
	"relievo/compile/view"
	"relievo/geom/solid"
	"relievo/lang"
)

// The names that the 3MF Core Specification 1.4.0 and the Open Packaging Conventions
// (ECMA-376 part 2) fix: facts/4-file-formats.md, 3mf.*.
const (
	coreNamespace     = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	modelRelation     = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	thumbnailRelation = "http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail"
	modelPart         = "3D/3dmodel.model"
	thumbnailPart     = "Metadata/thumbnail.png"

	packageTypes = xml.Header + `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
 <Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
 <Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
 <Default Extension="png" ContentType="image/png"/>
</Types>
`
	// Ids are of the type xs:ID: they begin with a letter.
	packageRelations = xml.Header + `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
 <Relationship Id="model" Type="` + modelRelation + `" Target="/` + modelPart + `"/>
 <Relationship Id="thumbnail" Type="` + thumbnailRelation + `" Target="/` + thumbnailPart + `"/>
</Relationships>
`
)

// deflateLevel of the package. A mesh of 1,000,000 triangles, measured on two cores
// (BenchmarkThreeMF): level 1 0.30 s and 10.3 MB, level 3 0.47 s and 9.5 MB, level 5
// 0.38 s and 9.1 MB, level 6 0.68 s and 8.8 MB.
const deflateLevel = 1

// zipVersion is 2.0, the version of the format that a reader needs for deflate (APPNOTE
// 4.4.3.2, from memory): readers of packages may refuse entries that name none.
const zipVersion = 20

// earliestDate is 1980-01-01 in the date word of a zip archive (zip.time): no clock
// reaches an output.
const earliestDate = 33

// writeThreeMF writes the body in colour as a 3MF package: one closed object for each of
// the plan's bands, named for its filament and of its base material; one object that is
// all of them together is what is built. Millimetres, positive octant. O(n); the packed
// model is held in memory, so that sizes stand before the data, where simple readers
// look for them.
func writeThreeMF(w io.Writer, m *Model) error {
	z := zip.NewWriter(w)
	for _, part := range []struct {
		name  string
		store bool // packed already
		write func(io.Writer) error
	}{
		{"[Content_Types].xml", false, func(w io.Writer) error { _, err := io.WriteString(w, packageTypes); return err }},
		{"_rels/.rels", false, func(w io.Writer) error { _, err := io.WriteString(w, packageRelations); return err }},
		{thumbnailPart, true, func(w io.Writer) error { return view.Thumbnail(w, m.Scene) }},
		{modelPart, false, func(w io.Writer) error { return writeModel(w, m) }},
	} {
		if err := addPart(z, part.name, part.store, part.write); err != nil {
			return fmt.Errorf("%s: %w", part.name, err)
		}
	}
	return z.Close()
}

// addPart packs one part of the package.
func addPart(z *zip.Writer, name string, store bool, write func(io.Writer) error) error {
	var packed bytes.Buffer
	sum := &checksum{}
	var into io.Writer = &packed
	var deflate *flate.Writer
	if !store {
		var err error
		if deflate, err = flate.NewWriter(&packed, deflateLevel); err != nil {
			return err
		}
		into = deflate
	}
	if err := write(io.MultiWriter(sum, into)); err != nil {
		return err
	}
	h := &zip.FileHeader{Name: name, Method: zip.Store, CRC32: sum.crc, UncompressedSize64: sum.size,
		CreatorVersion: zipVersion, ReaderVersion: zipVersion} // CreateRaw fills in neither
	if !store {
		if err := deflate.Close(); err != nil {
			return err
		}
		h.Method = zip.Deflate
	}
	h.CompressedSize64 = uint64(packed.Len())
	//lint:ignore SA1019 Modified would add a second date of another kind; CreateRaw takes this one as it is
	h.ModifiedDate = earliestDate
	to, err := z.CreateRaw(h)
	if err == nil {
		_, err = packed.WriteTo(to)
	}
	return err
}

// checksum counts and sums what is written.
type checksum struct {
	crc  uint32
	size uint64
}

func (c *checksum) Write(p []byte) (int, error) {
	c.crc = crc32.Update(c.crc, crc32.IEEETable, p)
	c.size += uint64(len(p))
	return len(p), nil
}

// Resources of the model share one space of ids.
const (
	materialsID = 1
	firstObject = 2
)

// writeModel writes the model part.
func writeModel(w io.Writer, m *Model) error {
	x := &xmlWriter{w: w}
	x.say(xml.Header, `<model unit="millimeter" xml:lang="en" xmlns="`, coreNamespace, `">`, "\n")
	x.say(` <metadata name="Title">`, escape(title(m.Sign)), "</metadata>\n")
	x.say(` <metadata name="Application">relievo</metadata>`, "\n", " <resources>\n")

	var filaments []*lang.Filament
	for _, b := range m.Plan.Bands {
		if !slices.Contains(filaments, b.Filament) {
			filaments = append(filaments, b.Filament)
		}
	}
	x.say(fmt.Sprintf("  <basematerials id=\"%d\">\n", materialsID))
	for _, f := range filaments {
		c := ColourOf(f)
		x.say(`   <base name="`, escape(f.Name), `" displaycolor="`, strings.ToUpper(c.Hex()), "\"/>\n")
	}
	x.say("  </basematerials>\n")

	id := firstObject
	numbers := map[string]int{}
	for i, b := range m.Plan.Bands {
		mesh, err := m.Band(i)
		if err != nil {
			return err
		}
		if len(mesh.Triangles) == 0 { // all of it was cut away: an object needs a mesh
			continue
		}
		x.say(fmt.Sprintf(`  <object id="%d" type="model" name="%s" partnumber="%s" pid="%d" pindex="%d">`+"\n",
			id, escape(b.Filament.Name), partNumber(b, numbers), materialsID, slices.Index(filaments, b.Filament)))
		x.mesh(mesh)
		x.say("  </object>\n")
		id++
	}
	x.say(fmt.Sprintf(`  <object id="%d" type="model" name="%s">`+"\n   <components>\n", id, escape(title(m.Sign))))
	for k := firstObject; k < id; k++ {
		x.say(fmt.Sprintf("    <component objectid=\"%d\"/>\n", k))
	}
	x.say("   </components>\n  </object>\n </resources>\n <build>\n")
	x.say(fmt.Sprintf("  <item objectid=\"%d\"/>\n </build>\n</model>\n", id))
	return x.flush()
}

// partNumber tells the objects apart: "layers-11-13", and "layers-11-13-2" for a second
// run of the same layers, which is possible where several filaments are loaded. used
// counts those given.
func partNumber(b stack.Band, used map[string]int) string {
	s := fmt.Sprintf("layers-%d-%d", b.From, b.To)
	if used[s]++; used[s] > 1 {
		s += fmt.Sprintf("-%d", used[s])
	}
	return s
}

// xmlWriter gathers text; its first error is kept until flush.
type xmlWriter struct {
	w   io.Writer
	buf []byte
	err error
}

const xmlChunk = 64 << 10

func (x *xmlWriter) say(texts ...string) {
	for _, t := range texts {
		x.buf = append(x.buf, t...)
	}
	x.full()
}

// full passes the text on when there is enough of it.
func (x *xmlWriter) full() {
	if len(x.buf) >= xmlChunk {
		_ = x.flush()
	}
}

func (x *xmlWriter) flush() error {
	if x.err == nil {
		_, x.err = x.w.Write(x.buf)
	}
	x.buf = x.buf[:0]
	return x.err
}

// mesh writes vertices, each once, and triangles that share them by index.
func (x *xmlWriter) mesh(m *solid.Mesh) {
	x.say("   <mesh>\n    <vertices>\n")
	for _, v := range m.Vertices {
		x.buf = append(x.buf, `<vertex x="`...)
		x.buf = appendSteps(x.buf, v.X)
		x.buf = append(x.buf, `" y="`...)
		x.buf = appendSteps(x.buf, v.Y)
		x.buf = append(x.buf, `" z="`...)
		x.buf = appendThousandths(x.buf, int64(v.Z))
		x.buf = append(x.buf, "\"/>\n"...)
		x.full()
	}
	x.say("    </vertices>\n    <triangles>\n")
	for _, t := range m.Triangles {
		for i, name := range [3]string{`<triangle v1="`, `" v2="`, `" v3="`} {
			x.buf = append(x.buf, name...)
			x.buf = strconv.AppendInt(x.buf, int64(t[i]), 10)
		}
		x.buf = append(x.buf, "\"/>\n"...)
		x.full()
	}
	x.say("    </triangles>\n   </mesh>\n")
}

// appendSteps writes mesh steps (1/4096 mm) in millimetres with as few places as a
// reader needs to find the step exactly even in float32, as in the STL: all 12 below
// 1 mm, 7 below 16 mm, where float32 values are at least 2^-23 mm apart, 6 from there
// on, where it is 2^-19 mm. Different steps stay different, and in float64 they are
// within 0.5e-6 mm.
func appendSteps(buf []byte, steps int32) []byte {
	n := int64(steps)
	if n < 0 {
		buf, n = append(buf, '-'), -n
	}
	const per, half = solid.SubPerMM, solid.SubPerMM / 2
	switch {
	case n < per:
		return appendDecimal(buf, n*(1e12/per), 1e12)
	case n < 16*per:
		return appendDecimal(buf, (n*1e7+half)/per, 1e7)
	}
	return appendDecimal(buf, (n*1e6+half)/per, 1e6)
}

// appendDecimal writes n/one for a power of ten, n >= 0, without needless zeros.
func appendDecimal(buf []byte, n, one int64) []byte {
	buf = strconv.AppendInt(buf, n/one, 10)
	f := n % one
	if f == 0 {
		return buf
	}
	buf = append(buf, '.')
	for d := one / 10; f > 0; d /= 10 {
		buf = append(buf, byte('0'+f/d))
		f %= d
	}
	return buf
}
