package write

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
)

// crashFolder is a model of a folder on a disk that keeps its promises and no more:
// bytes last once their file was synced, names once the folder was. What was not
// synced may survive a power cut, or not, each change by itself (POSIX promises no
// order). From operation stop on nothing works any more.
type crashFolder struct {
	mu      sync.Mutex        // files are made to last beside the next one
	names   map[string]*inode // as programs see it
	lasting map[string]*inode // as of the last sync
	pending []change          // since then
	ops     int
	stop    int  // the operation at which it stops; 0: never
	once    bool // only that operation fails (a full disk, not a power cut)
}

type inode struct{ data, lasting []byte }

type change struct {
	name    string
	to      *inode // nil: removed
	from    string // renamed from here
	renamed bool
}

var errStopped = errors.New("the machine stopped")

func (c *crashFolder) step() error {
	c.ops++
	if c.stop > 0 && (c.ops == c.stop || c.ops > c.stop && !c.once) {
		return errStopped
	}
	return nil
}

func (c *crashFolder) apply(names map[string]*inode, ch change) {
	if ch.renamed {
		delete(names, ch.from)
	}
	if ch.to == nil {
		delete(names, ch.name)
	} else {
		names[ch.name] = ch.to
	}
}

func (c *crashFolder) do(ch change) {
	c.apply(c.names, ch)
	c.pending = append(c.pending, ch)
}

func (c *crashFolder) Create(name string) (file, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.step(); err != nil {
		return nil, err
	}
	if c.names[name] != nil {
		return nil, fs.ErrExist
	}
	n := &inode{}
	c.do(change{name: name, to: n})
	return &crashFile{c, n}, nil
}

func (c *crashFolder) Open(name string) (io.ReadCloser, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.step(); err != nil {
		return nil, err
	}
	n := c.names[name]
	if n == nil {
		return nil, fs.ErrNotExist
	}
	return io.NopCloser(bytes.NewReader(n.data)), nil
}

func (c *crashFolder) Rename(from, to string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.step(); err != nil {
		return err
	}
	n := c.names[from]
	if n == nil {
		return fs.ErrNotExist
	}
	c.do(change{name: to, to: n, from: from, renamed: true})
	return nil
}

func (c *crashFolder) Remove(name string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.step(); err != nil {
		return err
	}
	if c.names[name] == nil {
		return fs.ErrNotExist
	}
	c.do(change{name: name})
	return nil
}

func (c *crashFolder) Sync() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.step(); err != nil {
		return err
	}
	c.lasting, c.pending = maps.Clone(c.names), nil
	return nil
}

func (c *crashFolder) List() ([]string, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.step(); err != nil {
		return nil, err
	}
	return slices.Sorted(maps.Keys(c.names)), nil
}

func (c *crashFolder) Type(name string) (fs.FileMode, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.step(); err != nil {
		return 0, err
	}
	if c.names[name] == nil {
		return 0, fs.ErrNotExist
	}
	return 0, nil
}

type crashFile struct {
	c *crashFolder
	n *inode
}

func (f *crashFile) Write(p []byte) (int, error) {
	f.c.mu.Lock()
	defer f.c.mu.Unlock()
	if err := f.c.step(); err != nil {
		f.n.data = append(f.n.data, p[:len(p)/2]...)
		return len(p) / 2, err
	}
	f.n.data = append(f.n.data, p...)
	return len(p), nil
}

func (f *crashFile) Sync() error {
	f.c.mu.Lock()
	defer f.c.mu.Unlock()
	if err := f.c.step(); err != nil {
		return err
	}
	f.n.lasting = slices.Clone(f.n.data)
	return nil
}

func (f *crashFile) Close() error {
	f.c.mu.Lock()
	defer f.c.mu.Unlock()
	return f.c.step()
}

// afterCut is what may be found when the power is back: of the pending changes those
// for which keep says so, of unsynced bytes the share that torn says.
func (c *crashFolder) afterCut(keep func(i int) bool, torn func(n *inode) []byte) *crashFolder {
	names := maps.Clone(c.lasting)
	for i, ch := range c.pending {
		if keep(i) {
			c.apply(names, ch)
		}
	}
	again := &crashFolder{names: map[string]*inode{}}
	for name, n := range names {
		data := slices.Clone(torn(n))
		again.names[name] = &inode{data, slices.Clone(data)}
	}
	again.lasting = maps.Clone(again.names)
	return again
}

// cuts gives every kind of state after a power cut.
func (c *crashFolder) cuts(rng *rand.Rand) []*crashFolder {
	all := func(int) bool { return true }
	none := func(int) bool { return false }
	synced := func(n *inode) []byte { return n.lasting }
	seen := func(n *inode) []byte { return n.data }
	half := func(n *inode) []byte { return n.data[:max(len(n.lasting), len(n.data)/2)] }
	out := []*crashFolder{
		c.afterCut(all, seen), // a killed program: nothing is lost
		c.afterCut(all, synced), c.afterCut(all, half), c.afterCut(none, synced), c.afterCut(none, seen),
	}
	for range 4 {
		bits := rng.Uint64()
		pick := func(i int) bool { return bits>>(i%64)&1 == 1 }
		out = append(out, c.afterCut(pick, synced), c.afterCut(pick, half))
	}
	for i := range c.pending { // in order up to i
		out = append(out, c.afterCut(func(j int) bool { return j <= i }, half))
	}
	return out
}

func (c *crashFolder) contents() map[string]string {
	out := map[string]string{}
	for name, n := range c.names {
		out[name] = string(n.data)
	}
	return out
}

func folderWith(files map[string]string) *crashFolder {
	c := &crashFolder{names: map[string]*inode{}}
	for name, data := range files {
		c.names[name] = &inode{[]byte(data), []byte(data)}
	}
	c.lasting = maps.Clone(c.names)
	return c
}

func testSet(sign, content string, kinds ...string) Set {
	s := Set{Sign: sign, Record: func(w io.Writer, written []FileDigest) error {
		_, err := fmt.Fprintf(w, "record %s %v", content, written)
		return err
	}}
	for _, k := range kinds {
		s.Outputs = append(s.Outputs, Output{Name: sign + "." + k, Write: func(w io.Writer) error {
			_, err := io.WriteString(w, k+" "+content)
			return err
		}})
	}
	return s
}

// TestCommitWhole stops the machine at every operation of a commit, looks at every
// state that may be found afterwards, and at every operation of the recovery again.
func TestCommitWhole(t *testing.T) {
	ctx := context.Background()
	strange := map[string]string{"notes.txt": "mine", "notes.next": "mine too", ".heron.stl": "hidden", ".heron.psd.unfinished": "?"}
	old := folderWith(strange)
	if err := commit(ctx, old, testSet("heron", "old", "stl", "swaps.json", "bom.json")); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name   string
		before map[string]string
		set    Set
	}{
		{"into an empty folder", strange, testSet("heron", "new", "stl", "swaps.json", "swaps.md")},
		{"over an earlier run", old.contents(), testSet("heron", "new", "stl", "swaps.json", "swaps.md")},
		{"a part of the files", old.contents(), testSet("heron", "new", "swaps.json")},
		{"another sign", old.contents(), testSet("otter", "new", "stl")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			whole := folderWith(tt.before)
			if err := commit(ctx, whole, tt.set); err != nil {
				t.Fatal(err)
			}
			after, steps := whole.contents(), whole.ops
			if len(after) <= len(strange) || maps.Equal(after, tt.before) {
				t.Fatalf("a commit wrote nothing: %v", after)
			}
			rng := rand.New(rand.NewPCG(1, 2))
			olds, news := 0, 0
			check := func(c *crashFolder, when string) {
				t.Helper()
				c.stop, c.ops = 0, 0
				damaged, err := recoverAll(c)
				if err != nil || len(damaged) > 0 {
					t.Fatalf("%s: recovery: damaged %v, error %v", when, damaged, err)
				}
				switch got := c.contents(); {
				case maps.Equal(got, tt.before):
					olds++
				case maps.Equal(got, after):
					news++
				default:
					t.Fatalf("%s: neither old nor new:\n%v", when, got)
				}
			}
			for k := 1; k <= steps; k++ {
				c := folderWith(tt.before)
				c.stop = k
				if err := commit(ctx, c, tt.set); !errors.Is(err, errStopped) {
					t.Fatalf("stopped at step %d of %d, got error %v", k, steps, err)
				}
				for i, cut := range c.cuts(rng) {
					when := fmt.Sprintf("step %d, state %d", k, i)
					for r := 1; ; r++ { // and once more, while recovering
						again := folderWith(cut.contents())
						again.stop = r
						if _, err := recoverAll(again); err == nil {
							break
						}
						for j, cut := range again.cuts(rng) {
							check(cut, fmt.Sprintf("%s, recovery step %d, state %d", when, r, j))
						}
					}
					check(cut, when)
				}
			}
			if olds == 0 || news == 0 {
				t.Errorf("%d states were old and %d new: the test has lost its grip", olds, news)
			}
		})
	}
}

// TestCommitFailure lets one operation fail and the later ones work, as on a full disk:
// the folder is as it was at once, or becomes new with the next command.
func TestCommitFailure(t *testing.T) {
	ctx := context.Background()
	before := map[string]string{"heron.stl": "old", "heron.record.json": "old"}
	set := testSet("heron", "new", "stl", "swaps.json")
	whole := folderWith(before)
	if err := commit(ctx, whole, set); err != nil {
		t.Fatal(err)
	}
	atOnce := 0
	for k := 1; k <= whole.ops; k++ {
		c := folderWith(before)
		c.stop, c.once = k, true
		if err := commit(ctx, c, set); !errors.Is(err, errStopped) {
			t.Fatalf("step %d: error %v", k, err)
		}
		if maps.Equal(c.contents(), before) {
			atOnce++
			continue
		}
		if _, err := recoverAll(c); err != nil {
			t.Fatal(err)
		}
		if got := c.contents(); !maps.Equal(got, whole.contents()) {
			t.Errorf("step %d: %v", k, got)
		}
	}
	if atOnce < whole.ops/2 {
		t.Errorf("only %d of %d failures left the folder as it was", atOnce, whole.ops)
	}
}

// TestRecoverDamaged: a disk that loses synced bytes can't be healed, but it is said
// which sign suffered, and nothing broken takes the place of a good file.
func TestRecoverDamaged(t *testing.T) {
	before := map[string]string{"heron.stl": "old", "heron.record.json": "old", "otter.stl": "old"}
	c := folderWith(before)
	set := testSet("heron", "new", "stl", "swaps.json")
	whole := folderWith(before)
	if err := commit(t.Context(), whole, set); err != nil {
		t.Fatal(err)
	}
	for k := 1; c.names["heron.next"] == nil; k++ { // up to the commit point
		c = folderWith(before)
		c.stop = k
		if commit(t.Context(), c, set) == nil {
			t.Fatal("no commit record seen")
		}
	}
	c.stop = 0
	c.names[".heron.stl.unfinished"].data[0] ^= 1
	damaged, err := recoverAll(c)
	if err != nil || !slices.Equal(damaged, []string{"heron"}) {
		t.Fatalf("damaged %v, error %v", damaged, err)
	}
	if got := c.contents(); !maps.Equal(got, before) {
		t.Errorf("folder %v", got)
	}
}

func TestCommitOnDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "deep", "out")
	list := func() map[string]string {
		out := map[string]string{}
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			data, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			out[e.Name()] = string(data)
		}
		return out
	}
	if damaged, err := Recover(dir); err != nil || damaged != nil {
		t.Fatalf("a folder that is not there: %v, %v", damaged, err)
	}
	if err := Commit(t.Context(), dir, testSet("heron", "1", "stl", "swaps.md"), testSet("otter", "1", "stl")); err != nil {
		t.Fatal(err)
	}
	want := map[string]string{
		"heron.stl": "stl 1", "heron.swaps.md": "swaps.md 1", "otter.stl": "stl 1",
		// Digests by sha256sum of GNU coreutils.
		"heron.record.json": "record 1 [{heron.stl 3aca1778eead6b0d032ec2f0d1d79a57177cc1a4bf420bc25b6e9c9b1d773fef} " +
			"{heron.swaps.md 5ac4b6e63305f5a3dcbd0028b3ff56d932bf587eef8df28f6df6a1f5737e1c5f}]",
		"otter.record.json": "record 1 [{otter.stl 3aca1778eead6b0d032ec2f0d1d79a57177cc1a4bf420bc25b6e9c9b1d773fef}]",
	}
	got := list()
	if len(got) != len(want) {
		t.Errorf("files %v", slices.Sorted(maps.Keys(got)))
	}
	for name, data := range want {
		if got[name] != data {
			t.Errorf("%s holds %q, want %q", name, got[name], data)
		}
	}
	// An error or a panic in a writer leaves everything as it was.
	bad := testSet("heron", "2", "stl")
	bad.Outputs = append(bad.Outputs, Output{Name: "heron.top.svg", Write: func(io.Writer) error { return errStopped }})
	if err := Commit(t.Context(), dir, bad); !errors.Is(err, errStopped) {
		t.Errorf("error %v", err)
	}
	bad.Outputs[1].Write = func(io.Writer) error { panic("broken") }
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the panic was swallowed")
			}
		}()
		_ = Commit(t.Context(), dir, bad)
	}()
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if err := Commit(ended, dir, testSet("heron", "2", "stl")); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if now := list(); !maps.Equal(now, got) {
		t.Errorf("after failures the folder holds %v", now)
	}
	// Leftovers of a killed run go with the next command, other files stay.
	for name := range map[string]int{".heron.stl.unfinished": 0, ".heron.next.unfinished": 0, ".mine.unfinished": 0, "x.next": 0} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("?"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Recover(dir); err != nil {
		t.Fatal(err)
	}
	got[".mine.unfinished"], got["x.next"] = "?", "?"
	if now := list(); !maps.Equal(now, got) {
		t.Errorf("after recovery the folder holds %v", slices.Sorted(maps.Keys(now)))
	}
}

func TestCommitRefuses(t *testing.T) {
	outside := filepath.Join(t.TempDir(), "outside")
	if err := os.WriteFile(outside, []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name    string
		prepare func(dir string) error
		set     Set
		want    string
	}{
		{"a link out of the folder", func(dir string) error { return os.Symlink(outside, filepath.Join(dir, "heron.stl")) },
			testSet("heron", "new", "swaps.md", "stl"), "heron.stl is in the way: a symbolic link"},
		{"a folder in the place of the record", func(dir string) error { return os.Mkdir(filepath.Join(dir, "heron.record.json"), 0o777) },
			testSet("heron", "new", "stl"), "heron.record.json is in the way: a folder"},
		{"somebody's own .next", func(dir string) error { return os.WriteFile(filepath.Join(dir, "heron.next"), []byte("mine"), 0o666) },
			testSet("heron", "new", "stl"), "heron.next is in the way"},
		{"a name with a folder", nil, testSet("../heron", "new", "stl"), "can't be part of a file name"},
		{"an unknown ending", nil, testSet("heron", "new", "exe"), "no file of heron"},
		{"the record among the outputs", nil, testSet("heron", "new", "record.json"), "no file of heron"},
		{"twice", nil, testSet("heron", "new", "stl", "stl"), "there twice"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			if tt.prepare != nil {
				if err := tt.prepare(dir); err != nil {
					t.Fatal(err)
				}
			}
			before, _ := os.ReadDir(dir)
			err := Commit(t.Context(), dir, tt.set)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want %q", err, tt.want)
			}
			if after, _ := os.ReadDir(dir); len(after) != len(before) {
				t.Errorf("folder holds %v", after)
			}
			if data, _ := os.ReadFile(outside); string(data) != "mine" {
				t.Errorf("outside file holds %q", data)
			}
		})
	}
}

// FuzzNext: whatever lies in a .next file, only names of that sign come out of it.
func FuzzNext(f *testing.F) {
	sum := strings.Repeat("0", 64)
	f.Add([]byte(`{"format":"relievo-next/1","sign":"a","files":[{"file":"a.stl","sha256":"` + sum + `"},{"file":"a.record.json","sha256":"` + sum + `"}]}`))
	f.Add([]byte(`{"format":"relievo-next/1","sign":"a","files":[{"file":"../a.stl","sha256":"` + sum + `"},{"file":"a.record.json","sha256":"` + sum + `"}]}`))
	f.Add([]byte(`{"format":"relievo-next/1","sign":"a","files":[{"file":"a.next","sha256":"` + sum + `"},{"file":"a.record.json","sha256":"` + sum + `"}]}`))
	f.Add([]byte(`{"format":"relievo-next/1","sign":"b","files":[]}`))
	f.Add([]byte(`[[[[`))
	f.Fuzz(func(t *testing.T, data []byte) {
		n, ok, err := parseNext(data, "a")
		if err != nil || !ok {
			return
		}
		for _, x := range n.Files {
			if sign, suffix, ok := splitName(x.File); !ok || sign != "a" || suffix == nextSuffix || strings.ContainsAny(x.File, `/\`) {
				t.Errorf("%q came through", x.File)
			}
		}
	})
}
