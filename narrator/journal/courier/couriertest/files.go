package couriertest

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"testing"

	"stepcaller/narrator/journal/courier"
)

// file describes a file with some content.
func file(kind courier.FileKind, name, parent string, content []byte) courier.File {
	sum := sha256.Sum256(content)
	return courier.File{Kind: kind, Name: name, Sum: hex.EncodeToString(sum[:]), Size: int64(len(content)), Parent: parent}
}

// put sends a whole file from a bay.
func (r *rig) put(bay string, kind courier.FileKind, name, parent, content string) courier.File {
	r.t.Helper()
	f := file(kind, name, parent, []byte(content))
	r.is(r.Bay(bay).Put(r.t.Context(), f, 0, []byte(content)), nil)
	return f
}

// files lists the files of a kind that a bay may read.
func (r *rig) files(bay string, kind courier.FileKind) []courier.File {
	r.t.Helper()
	files, err := r.Bay(bay).Files(r.t.Context(), kind)
	r.is(err, nil)
	return files
}

// wantFiles fails unless a bay may read just these files, in this order.
func (r *rig) wantFiles(bay string, kind courier.FileKind, want ...courier.File) {
	r.t.Helper()
	got := r.files(bay, kind)
	if len(got) != len(want) {
		r.t.Errorf("%s reads %+v, want %+v", bay, got, want)
		return
	}
	for i, f := range want {
		if f.Bay = got[i].Bay; got[i] != f || f.Bay == "" {
			r.t.Errorf("%s reads %+v, want %+v", bay, got[i], f)
		}
	}
}

// wantContent fails unless a file reads as it should.
func (r *rig) wantContent(bay string, f courier.File, want []byte) {
	r.t.Helper()
	var got []byte
	for {
		piece, err := r.Bay(bay).Get(r.t.Context(), f.Kind, f.Name, f.Sum, int64(len(got)), 1000)
		r.is(err, nil)
		if len(piece) > 1000 {
			r.t.Errorf("a piece of %d bytes", len(piece))
		}
		if len(piece) == 0 {
			break
		}
		got = append(got, piece...)
	}
	if !bytes.Equal(got, want) {
		r.t.Errorf("%s reads %d bytes of %s, want %d", bay, len(got), f.Name, len(want))
	}
}

// wantHas fails unless so much of a file has arrived.
func (r *rig) wantHas(f courier.File, n int64, whole bool) {
	r.t.Helper()
	got, all, err := r.Bay("lift-2").Has(r.t.Context(), f.Kind, f.Name, f.Sum)
	if got != n || all != whole || err != nil {
		r.t.Errorf("%d bytes have arrived, whole: %v, %v; want %d, %v", got, all, err, n, whole)
	}
}

func testPieces(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	sound := bytes.Repeat([]byte("sound\x00\xff "), 600)
	f := file(courier.Memo, "memos/1.lift-2-1.wav", "", sound)
	shop := r.Bay("lift-2")
	r.wantHas(f, 0, false)
	r.is(shop.Put(t.Context(), f, 0, sound[:2000]), nil)
	r.wantHas(f, 2000, false)
	r.wantFiles("lift-2", courier.Memo)
	if _, err := shop.Get(t.Context(), f.Kind, f.Name, f.Sum, 0, 10); err == nil {
		t.Error("half a file was read")
	}
	r.is(shop.Put(t.Context(), f, 2000, sound[2000:]), nil)
	r.wantHas(f, f.Size, true)
	r.wantFiles("lift-2", courier.Memo, f)
	r.wantContent("lift-2", f, sound)
	empty := file(courier.Memo, "memos/1.lift-2-2.wav", "", nil)
	r.is(shop.Put(t.Context(), empty, 0, nil), nil)
	r.wantFiles("lift-2", courier.Memo, f, empty)
}

func testResumed(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	sound := bytes.Repeat([]byte("sound"), 600)
	f := file(courier.Memo, "memos/1.lift-2-1.wav", "", sound)
	shop := r.Bay("lift-2")
	r.is(shop.Put(t.Context(), f, 1000, sound[1000:2000]), courier.ErrNotArrived)
	r.wantHas(f, 0, false)
	for range 2 {
		r.is(shop.Put(t.Context(), f, 0, sound[:1000]), nil)
		r.wantHas(f, 1000, false)
	}
	r.is(shop.Put(t.Context(), f, 2000, sound[2000:]), courier.ErrNotArrived)
	r.is(shop.Put(t.Context(), f, 500, sound[500:2500]), nil) // half of it has arrived
	r.wantHas(f, 2500, false)
	for range 2 {
		r.is(shop.Put(t.Context(), f, 2500, sound[2500:]), nil)
	}
	r.wantContent("lift-2", f, sound)
}

func testWrongSum(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	sound := bytes.Repeat([]byte("sound"), 600)
	f := file(courier.Memo, "memos/1.lift-2-1.wav", "", sound)
	shop := r.Bay("lift-2")
	r.is(shop.Put(t.Context(), f, 0, sound[:1000]), nil)
	r.is(shop.Put(t.Context(), f, 1000, sound[999:2999]), courier.ErrDamaged)
	r.wantHas(f, 0, false)
	r.wantFiles("lift-2", courier.Memo)
	r.is(shop.Put(t.Context(), f, 0, append(sound, 'x')), courier.ErrDamaged)
	r.wantHas(f, 0, false)
	r.is(shop.Put(t.Context(), f, 0, sound), nil)
	r.wantContent("lift-2", f, sound)
}

func testMemos(t *testing.T, r *rig) {
	r.begin("lift-2", "1", 3)
	first := r.put("lift-2", courier.Memo, "memos/1.lift-2-1.wav", "", "first")
	r.is(r.Bay("pit").Put(t.Context(), file(courier.Memo, "memos/1.lift-2-2.wav", "", []byte("x")), 0, []byte("x")), courier.ErrNotOwner)
	r.is(r.Bay("pit").Put(t.Context(), file(courier.Memo, "memos/9.pit-1.wav", "", []byte("x")), 0, []byte("x")), courier.ErrNotOwner)
	r.wantFiles("pit", courier.Memo)
	_, err := r.Bay("pit").Get(t.Context(), courier.Memo, first.Name, first.Sum, 0, 10)
	r.is(err, courier.ErrNoSuchFile)
	r.is(r.Bay("lift-2").Release(t.Context(), "1.lift-2", 3, "pit"), nil)
	r.wantFiles("pit", courier.Memo, first)
	r.wantFiles("lift-3", courier.Memo)
	r.goOn("pit", r.claim("pit", "1.lift-2", false), 1)
	second := r.put("pit", courier.Memo, "memos/1.lift-2-2.wav", "", "second")
	r.wantFiles("pit", courier.Memo, first, second)
	r.wantFiles("lift-2", courier.Memo, first)
	r.wantFiles("lift-3", courier.Memo)
	r.wantContent("pit", first, []byte("first"))
}

func testProcedures(t *testing.T, r *rig) {
	v0 := r.put("lift-2", courier.Procedure, "fan-belt", "", "version 0")
	if got := r.files("pit", courier.Procedure); len(got) != 1 || got[0].Bay != "lift-2" {
		t.Errorf("pit reads %+v", got)
	}
	v1 := r.put("pit", courier.Procedure, "fan-belt", v0.Sum, "version 1")
	r.wantFiles("lift-2", courier.Procedure, v1)
	r.wantContent("lift-2", v1, []byte("version 1"))
	aside := r.put("lift-3", courier.Procedure, "fan-belt", v0.Sum, "edited at once")
	stray := r.put("lift-3", courier.Procedure, "fan-belt", "", "from nowhere")
	r.wantFiles("lift-3", courier.Procedure, v1)
	r.wantContent("pit", aside, []byte("edited at once"))
	r.wantContent("pit", stray, []byte("from nowhere"))
	merged := r.put("lift-3", courier.Procedure, "fan-belt", v1.Sum, "both")
	other := r.put("lift-3", courier.Procedure, "brakes", "", "brakes")
	for _, bay := range []string{"lift-2", "pit", "lift-3"} {
		r.wantFiles(bay, courier.Procedure, other, merged)
	}
	_, err := r.Bay("pit").Get(t.Context(), courier.Procedure, "clutch", v0.Sum, 0, 10)
	r.is(err, courier.ErrNoSuchFile)
}

func testVersionBack(t *testing.T, r *rig) {
	v0 := r.put("lift-2", courier.Procedure, "fan-belt", "", "version 0")
	v1 := r.put("lift-2", courier.Procedure, "fan-belt", v0.Sum, "version 1")
	r.wantFiles("pit", courier.Procedure, v1)
	v0.Parent = v1.Sum
	r.is(r.Bay("pit").Put(t.Context(), v0, v0.Size, nil), nil) // all of it has arrived long since
	r.wantFiles("lift-2", courier.Procedure, v0)
	r.is(r.Bay("pit").Put(t.Context(), v0, v0.Size, nil), nil)
	r.wantFiles("lift-2", courier.Procedure, v0)
}

func testVoices(t *testing.T, r *rig) {
	ines := r.put("lift-2", courier.Voice, "ines/ines.voice", "", "how Ines speaks")
	jo := r.put("pit", courier.Voice, "jo/jo.voice", "", "how Jo speaks")
	r.wantFiles("pit", courier.Voice, ines, jo)
	r.wantContent("pit", ines, []byte("how Ines speaks"))
	again := r.put("pit", courier.Voice, "ines/ines.voice", ines.Sum, "how Ines speaks now")
	r.wantFiles("lift-2", courier.Voice, again, jo)
	for range 2 {
		r.is(r.Bay("lift-2").Withdraw(t.Context(), "ines"), nil)
	}
	r.wantFiles("pit", courier.Voice, jo)
	for _, f := range []courier.File{ines, again} {
		_, err := r.Bay("pit").Get(t.Context(), f.Kind, f.Name, f.Sum, 0, 10)
		r.is(err, courier.ErrNoSuchFile)
	}
	r.put("lift-2", courier.Voice, "ines/ines.voice", "", "how Ines speaks")
	r.wantFiles("pit", courier.Voice, ines, jo)
}
