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

// deflateLevel of the package: a body of 1.5 million triangles takes a quarter of the
// time of level 6 and a sixth more room.
const deflateLevel = 1

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
	h := &zip.FileHeader{Name: name, Method: zip.Store, CRC32: sum.crc, UncompressedSize64: sum.size}
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
	x.say(xml.Header, `<model unit="millimeter" xmlns="`, coreNamespace, `">`, "\n")
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
		c := noColour
		if f.HasColour {
			c = f.Colour
		}
		x.say(`   <base name="`, escape(f.Name), `" displaycolor="`, strings.ToUpper(c.Hex()), "\"/>\n")
	}
	x.say("  </basematerials>\n")

	id := firstObject
	for i, b := range m.Plan.Bands {
		mesh, err := m.Band(i)
		if err != nil {
			return err
		}
		if len(mesh.Triangles) == 0 { // all of it was cut away: an object needs a mesh
			continue
		}
		x.say(fmt.Sprintf(`  <object id="%d" type="model" name="%s" partnumber="%s" pid="%d" pindex="%d">`+"\n",
			id, escape(b.Filament.Name), layersName(b), materialsID, slices.Index(filaments, b.Filament)))
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

// layersName tells the objects of one filament apart.
func layersName(b stack.Band) string { return fmt.Sprintf("layers-%d-%d", b.From, b.To) }

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
		x.buf = appendMillionths(x.buf, millionths(v.X))
		x.buf = append(x.buf, `" y="`...)
		x.buf = appendMillionths(x.buf, millionths(v.Y))
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

// millionths turns mesh steps (1/4096 mm) into millionths of a millimetre, halves up:
// within 0.5e-6 mm, so that different steps stay different, and from 16 mm on a reader's
// float32 is the step exactly.
func millionths(steps int32) int64 {
	const half = solid.SubPerMM / 2
	return (int64(steps)*1_000_000 + half) >> 12
}

// appendMillionths writes n/1,000,000 without needless zeros.
func appendMillionths(buf []byte, n int64) []byte {
	if n < 0 {
		buf, n = append(buf, '-'), -n
	}
	buf = strconv.AppendInt(buf, n/1_000_000, 10)
	f := n % 1_000_000
	if f == 0 {
		return buf
	}
	buf = append(buf, '.')
	for d := int64(100_000); f > 0; d /= 10 {
		buf = append(buf, byte('0'+f/d))
		f %= d
	}
	return buf
}
