package pictures_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"brinefield/internal/pictures"
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// gradient is an image in which every pixel differs from its neighbours.
func gradient() image.Image {
	m := image.NewNRGBA(image.Rect(0, 0, 40, 24))
	for y := range 24 {
		for x := range 40 {
			m.Set(x, y, color.NRGBA{uint8(x * 6), uint8(y * 10), uint8(x * y), uint8(255 - y)})
		}
	}
	return m
}

func plainJPEG() []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, gradient(), &jpeg.Options{Quality: 80}); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func plainPNG() []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, gradient()); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func stored(name string) []byte { return must(os.ReadFile(filepath.Join("testdata", name))) }

// samples are pictures of every form, by the name of their file.
func samples() map[string][]byte {
	return map[string][]byte{
		"plain.jpg": plainJPEG(), "progressive.jpg": stored("progressive.jpg"), "restarts.jpg": stored("restarts.jpg"), "plain.png": plainPNG(),
		"lossy.webp": stored("lossy.webp"), "lossless.webp": stored("lossless.webp"), "alpha.webp": stored("alpha.webp"), "moving.webp": stored("moving.webp"),
	}
}

// segment is a part of a JPEG file (ITU-T T.81, B.1.1.4).
func segment(mark byte, body string) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xFF, mark}, uint16(len(body)+2)), body...)
}

// behindStart puts parts behind the first marker of a JPEG file.
func behindStart(picture []byte, parts ...[]byte) []byte {
	return slices.Concat(picture[:2], slices.Concat(parts...), picture[2:])
}

func chunk(kind, body string) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	b = append(append(b, kind...), body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// behindHeader puts chunks behind the header of a PNG file: signature 8, IHDR 25 bytes.
func behindHeader(picture []byte, chunks ...[]byte) []byte {
	return slices.Concat(picture[:33], slices.Concat(chunks...), picture[33:])
}

func riff(kind string, body []byte) []byte {
	b := binary.LittleEndian.AppendUint32([]byte(kind), uint32(len(body)))
	b = append(b, body...)
	return append(b, make([]byte, len(body)%2)...)
}

func webp(chunks ...[]byte) []byte {
	return riff("RIFF", append([]byte("WEBP"), slices.Concat(chunks...)...))
}

// profile is the frame of a colour profile (ICC.1: size, signature at byte 36).
func profile(size int) string {
	b := make([]byte, size)
	binary.BigEndian.PutUint32(b, uint32(size))
	copy(b[36:], "acsp")
	return string(b)
}

// turnedExif is Exif with the orientation 6 and a name, in either order of bytes.
func turnedExif(order binary.AppendByteOrder, head string) string {
	b := order.AppendUint32([]byte(head), 8)
	b = order.AppendUint16(b, 2)
	b = order.AppendUint32(order.AppendUint16(order.AppendUint16(b, 0x013B), 2), 4) // Artist, ASCII
	b = append(b, "Mia\x00"...)
	b = order.AppendUint32(order.AppendUint16(order.AppendUint16(b, 0x0112), 3), 1)
	b = order.AppendUint16(order.AppendUint16(b, 6), 0)
	return string(order.AppendUint32(b, 0))
}

func TestImageDataStay(t *testing.T) {
	for name, before := range samples() {
		after, err := pictures.WithoutPlace(before, "")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if kind := pictures.Kind(before); kind == pictures.WebP {
			// No decoder here: the chunks themselves must be the same.
			for _, kind := range []string{"VP8 ", "VP8L", "ALPH", "ANIM"} {
				if a, b := imageData(after, kind), imageData(before, kind); !bytes.Equal(a, b) || kind[:3] == "VP8" && len(a)+len(imageData(after, "VP8L"))+len(imageData(after, "VP8 ")) == 0 {
					t.Errorf("%s: the data %q are not the same: %d and %d bytes", name, kind, len(a), len(b))
				}
			}
			continue
		}
		samePixels(t, name, before, after)
	}
}

// imageData joins what chunks of a kind hold in a WebP file, those of its frames too.
func imageData(file []byte, kind string) (out []byte) {
	var walk func(b []byte)
	walk = func(b []byte) {
		for len(b) >= 8 {
			size := int(binary.LittleEndian.Uint32(b[4:]))
			body := b[8 : 8+size]
			switch string(b[:4]) {
			case kind:
				out = append(out, body...)
			case "ANMF":
				out = append(out, body[:16]...)
				walk(body[16:])
			}
			b = b[8+size+size%2:]
		}
	}
	walk(file[12:])
	return out
}

func samePixels(t *testing.T, name string, before, after []byte) {
	t.Helper()
	a, _, err := image.Decode(bytes.NewReader(before))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	b, _, err := image.Decode(bytes.NewReader(after))
	if err != nil {
		t.Fatalf("%s, cleaned: %v", name, err)
	}
	if a.Bounds() != b.Bounds() {
		t.Fatalf("%s: %v, cleaned %v", name, a.Bounds(), b.Bounds())
	}
	for y := a.Bounds().Min.Y; y < a.Bounds().Max.Y; y++ {
		for x := a.Bounds().Min.X; x < a.Bounds().Max.X; x++ {
			if a.At(x, y) != b.At(x, y) {
				t.Fatalf("%s: pixel %d,%d is %v, cleaned %v", name, x, y, a.At(x, y), b.At(x, y))
			}
		}
	}
}

// TestWhatIsLeftOut puts a word into every part that may hold one.
func TestWhatIsLeftOut(t *testing.T) {
	const secret = "54.1N 8.6W Aoife (invented)"
	const reserved = "\x17\x18\x19" // in bits of WebP's header that mean nothing
	jpg, pic := plainJPEG(), plainPNG()
	jfif := segment(0xE0, "JFIF\x00\x01\x02\x01\x00\x48\x00\x48\x01\x01"+secret[:3])
	scan := bytes.Index(jpg, []byte{0xFF, 0xDA})
	vp8x := string([]byte{0x08 | 0x04 | 0x10, 0x17, 0x18, 0x19, 32, 0, 0, 24, 0, 0}) // Exif, XMP, alpha
	alpha := stored("alpha.webp")
	for name, picture := range map[string][]byte{
		"Exif":               behindStart(jpg, segment(0xE1, "Exif\x00\x00"+secret)),
		"XMP":                behindStart(jpg, segment(0xE1, "http://ns.adobe.com/xap/1.0/\x00"+secret)),
		"APP13":              behindStart(jpg, segment(0xED, "Photoshop 3.0\x00"+secret)),
		"comment":            behindStart(jpg, segment(0xFE, secret)),
		"late comment":       slices.Concat(jpg[:scan], segment(0xFE, secret), jpg[scan:]),
		"several pictures":   append(behindStart(jpg, segment(0xE2, "MPF\x00"+secret)), jpg...),
		"behind the end":     append(bytes.Clone(jpg), secret...),
		"small picture":      behindStart(jpg, jfif, segment(0xE0, "JFXX\x00\x10"+secret)),
		"Adobe":              behindStart(jpg, segment(0xEE, "Adobe\x00\x64\x00\x00\x00\x00\x01"+secret)),
		"other application":  behindStart(jpg, segment(0xE7, secret), segment(0xEB, secret), segment(0xEF, secret)),
		"no profile":         behindStart(jpg, segment(0xE2, "ICC_PROFILE\x00\x01\x01"+secret)),
		"half a profile":     behindStart(jpg, segment(0xE2, "ICC_PROFILE\x00\x01\x02"+profile(200)[:150]+secret)),
		"too long a profile": behindStart(jpg, segment(0xE2, "ICC_PROFILE\x00\x01\x01"+profile(200)+secret)),
		"PNG texts":          behindHeader(pic, chunk("tEXt", secret), chunk("zTXt", secret), chunk("iTXt", secret), chunk("tIME", secret), chunk("eXIf", secret)),
		"PNG of a program":   behindHeader(pic, chunk("prVt", secret), chunk("dSIG", secret), chunk("caBX", secret), chunk("sPLT", secret)),
		"PNG profile":        behindHeader(pic, chunk("iCCP", secret+"\x00\x00x")),
		"PNG end":            append(bytes.Clone(pic), secret...),
		"WebP": webp(riff("VP8X", []byte(vp8x)), riff("ICCP", []byte(secret)), riff("ALPH", imageData(alpha, "ALPH")), riff("VP8 ", imageData(alpha, "VP8 ")), riff("VP8 ", []byte(secret)),
			riff("EXIF", []byte(secret)), riff("XMP ", []byte(secret)), riff("GPSx", []byte(secret))),
		"WebP, simple": webp(riff("VP8 ", imageData(stored("lossy.webp"), "VP8 ")), riff("EXIF", []byte(secret)), riff("XMP ", []byte(secret))),
		"WebP end":     append(stored("lossless.webp"), secret...),
	} {
		after, err := pictures.WithoutPlace(picture, "")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !bytes.Contains(picture, []byte(secret[4:])) && name != "small picture" {
			t.Errorf("%s: the test hides nothing in it", name)
		}
		for _, part := range []string{secret, secret[:13], "Aoife", "invented", "Exif", "EXIF", "XMP", "MPF", reserved, "JFXX"} {
			if bytes.Contains(after, []byte(part)) && (part != reserved || pictures.Kind(after) == pictures.WebP) {
				t.Errorf("%s: %q is still in it", name, part)
			}
		}
		if pictures.Kind(picture) != pictures.WebP {
			samePixels(t, name, picture, after)
		}
		if again, err := pictures.WithoutPlace(after, pictures.Kind(picture)); err != nil || !bytes.Equal(again, after) {
			t.Errorf("%s: cleaned once more it is another: %v", name, err)
		}
	}
}

// TestOrientationAndColoursStay: a picture is still the right way up, in the same
// colours.
func TestOrientationAndColoursStay(t *testing.T) {
	jpg, pic, alpha := plainJPEG(), plainPNG(), stored("alpha.webp")
	little, big := turnedExif(binary.LittleEndian, "II*\x00"), turnedExif(binary.BigEndian, "MM\x00*")
	vp8x := []byte{0x08 | 0x20 | 0x10, 0, 0, 0, 32, 0, 0, 24, 0, 0}
	inWebP := func(exif string) []byte {
		return webp(riff("VP8X", vp8x), riff("ICCP", []byte(profile(201))), riff("ALPH", imageData(alpha, "ALPH")), riff("VP8 ", imageData(alpha, "VP8 ")), riff("EXIF", []byte(exif)))
	}
	// Exif with nothing but the tag 0x0112, a SHORT of 6 (CIPA DC-008, 4.6.2).
	const alone = "MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00"
	icc := "ICC_PROFILE\x00\x01\x02" + profile(300)[:200]
	rest := "ICC_PROFILE\x00\x02\x02" + profile(300)[200:]
	for name, c := range map[string]struct {
		picture []byte
		want    []string
	}{
		"JPEG, little end first": {behindStart(jpg, segment(0xE1, "Exif\x00\x00"+little)), []string{"Exif\x00\x00" + alone}},
		"JPEG, big end first":    {behindStart(jpg, segment(0xE1, "Exif\x00\x00"+big)), []string{"Exif\x00\x00" + alone}},
		"JPEG, profile":          {behindStart(jpg, segment(0xE2, icc), segment(0xE2, rest)), []string{string(segment(0xE2, icc)) + string(segment(0xE2, rest))}},
		"JPEG, colours":          {behindStart(jpg, segment(0xEE, "Adobe\x00\x64\x00\x00\x00\x00\x01")), []string{string(segment(0xEE, "Adobe\x00\x64\x00\x00\x00\x00\x01"))}},
		"PNG":                    {behindHeader(pic, chunk("eXIf", little), chunk("gAMA", "\x00\x00\xb1\x8f"), chunk("iCCP", "Aoife's screen\x00\x00abc")), []string{string(chunk("eXIf", alone)), string(chunk("gAMA", "\x00\x00\xb1\x8f")), string(chunk("iCCP", "profile\x00\x00abc"))}},
		"PNG, late":              {slices.Concat(pic[:len(pic)-12], chunk("eXIf", big), pic[len(pic)-12:]), []string{string(chunk("eXIf", alone))}},
		"WebP":                   {inWebP(little), []string{alone, profile(201)}},
		"WebP, as some write it": {inWebP("Exif\x00\x00" + big), []string{string(riff("EXIF", []byte(alone)))}},
	} {
		after, err := pictures.WithoutPlace(c.picture, "")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, want := range c.want {
			if !bytes.Contains(after, []byte(want)) {
				t.Errorf("%s: it has lost %q", name, want)
			}
		}
		if bytes.Contains(after, []byte("Mia")) || bytes.Contains(after, []byte("Aoife")) {
			t.Errorf("%s: the name is still in it", name)
		}
		if bytes.HasPrefix([]byte(name), []byte("WebP")) && after[20] != vp8x[0] {
			t.Errorf("%s: the header's flags are %#x; want %#x", name, after[20], vp8x[0])
		}
	}
	for v := range uint16(12) { // 1 is upright, above 8 there is nothing
		exif := []byte(alone)
		binary.BigEndian.PutUint16(exif[18:], v)
		after := must(pictures.WithoutPlace(behindStart(jpg, segment(0xE1, "Exif\x00\x00"+string(exif))), pictures.JPEG))
		if has, want := bytes.Contains(after, exif), v >= 2 && v <= 8; has != want {
			t.Errorf("orientation %d: kept %v, want %v", v, has, want)
		}
	}
}

// TestRefused: what cannot be promised is not handed out.
func TestRefused(t *testing.T) {
	jpg, pic := plainJPEG(), plainPNG()
	for name, c := range map[string]struct {
		data []byte
		kind string
	}{
		"nothing":             {nil, ""},
		"text":                {[]byte("54.1N 8.6W"), ""},
		"GIF":                 {[]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), ""},
		"HEIC":                {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), ""},
		"another type":        {jpg, pictures.PNG},
		"JPEG of two":         {behindStart(jpg, jpg), ""},
		"JPEG of nothing":     {[]byte("\xFF\xD8\xFF\xD9"), ""},
		"JPEG, unknown part":  {behindStart(jpg, segment(0xF0, "54.1N")), ""},
		"JPEG, filled":        {behindStart(jpg, []byte("54.1N")), ""},
		"JPEG, short part":    {behindStart(jpg, []byte{0xFF, 0xE1, 0, 1}), ""},
		"JPEG, scan first":    {[]byte("\xFF\xD8\xFF\xDA\x00\x02abc\xFF\xD9"), ""},
		"PNG, bad sum":        {behindHeader(pic, append(chunk("tEXt", "x")[:9], 0, 0, 0, 0)), ""},
		"PNG, unknown part":   {behindHeader(pic, chunk("PLAc", "54.1N")), ""},
		"PNG of nothing":      {slices.Concat(pic[:33], chunk("IEND", "")), ""},
		"PNG without header":  {slices.Concat(pic[:8], chunk("IDAT", "x"), chunk("IEND", "")), ""},
		"WebP of nothing":     {webp(riff("EXIF", []byte("54.1N"))), ""},
		"WebP, late header":   {webp(riff("VP8 ", []byte("12345678")), riff("VP8X", make([]byte, 10))), ""},
		"WebP, frame":         {webp(riff("VP8X", make([]byte, 10)), riff("ANMF", append(make([]byte, 16), riff("EXIF", []byte("54.1N"))...))), ""},
		"WebP, short frame":   {webp(riff("VP8X", make([]byte, 10)), riff("ANMF", []byte("12345"))), ""},
		"WebP, endless chunk": {webp(append([]byte("VP8 \xff\xff\xff\xff"), "123456789"...)), ""},
	} {
		if out, err := pictures.WithoutPlace(c.data, c.kind); !errors.Is(err, pictures.ErrCannotClean) || out != nil {
			t.Errorf("%s: %d bytes, %v; want a refusal", name, len(out), err)
		}
	}
	for name, whole := range samples() {
		for n := range whole {
			if _, err := pictures.WithoutPlace(whole[:n], ""); !errors.Is(err, pictures.ErrCannotClean) {
				t.Fatalf("%s, cut at %d of %d bytes: %v; want a refusal", name, n, len(whole), err)
			}
		}
	}
}

func TestKind(t *testing.T) {
	for name, c := range map[string]struct {
		data, want, ends string
	}{
		"JPEG":               {string(plainJPEG()), "image/jpeg", ".jpg"},
		"PNG":                {string(plainPNG()), "image/png", ".png"},
		"WebP":               {string(stored("lossy.webp")), "image/webp", ".webp"},
		"WebM":               {"\x1A\x45\xDF\xA3\x9F\x42\x86\x81\x01\x42\xF7\x81\x01\x42\xF2\x81\x04\x42\xF3\x81\x08\x42\x82\x84webm\x42\x87\x81\x04", "audio/webm", ".weba"},
		"Matroska":           {"\x1A\x45\xDF\xA3\xA3\x42\x86\x81\x01\x42\x82\x88matroska", "", ""},
		"EBML, cut":          {"\x1A\x45\xDF\xA3\x9F\x42\x82", "", ""},
		"Ogg":                {"OggS\x00\x02", "audio/ogg", ".ogg"},
		"recorded on iPadOS": {"\x00\x00\x00\x1Cftypiso5\x00\x00\x00\x01isom", "audio/mp4", ".m4a"},
		"M4A":                {"\x00\x00\x00\x1CftypM4A \x00\x00\x00\x00", "audio/mp4", ".m4a"},
		"HEIC":               {"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", "", ""},
		"QuickTime":          {"\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ", "", ""},
		"wave":               {"RIFF\x24\x00\x00\x00WAVEfmt ", "audio/wav", ".wav"},
		"page":               {"<!doctype html><script>", "", ""},
		"drawing":            {"<?xml version=\"1.0\"?><svg xmlns=\"http://www.w3.org/2000/svg\">", "", ""},
		"nothing":            {"", "", ""},
	} {
		kind := pictures.Kind([]byte(c.data))
		if kind != c.want || pictures.Extension(kind) != c.ends {
			t.Errorf("%s: %q, %q; want %q, %q", name, kind, pictures.Extension(kind), c.want, c.ends)
		}
		if photo := bytes.HasPrefix([]byte(c.want), []byte("image/")); pictures.IsPhoto(kind) != photo || pictures.IsVoice(kind) != (c.want != "" && !photo) {
			t.Errorf("%s: photo %v, voice %v", name, pictures.IsPhoto(kind), pictures.IsVoice(kind))
		}
	}
}

// TestMemory: what is held is the result, whatever a file claims of its sizes or
// into how many parts it is cut.
func TestMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("the race detector takes memory of its own")
	}
	many := behindStart(plainJPEG(), bytes.Repeat([]byte{0xFF, 0xE5, 0, 2}, 500_000))
	small := behindHeader(plainPNG(), bytes.Repeat(chunk("prVt", ""), 200_000))
	for name, data := range map[string][]byte{"JPEG": many, "PNG": small} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		must(pictures.WithoutPlace(data, ""))
		runtime.ReadMemStats(&after)
		if got, most := after.TotalAlloc-before.TotalAlloc, uint64(2*len(data)); got > most {
			t.Errorf("%s of %d bytes in many parts: %d bytes are taken; want at most %d", name, len(data), got, most)
		}
	}
}

// FuzzWithoutPlace: nothing panics, nothing grows, what was cleaned is clean, and
// what could be decoded still is the same image.
func FuzzWithoutPlace(f *testing.F) {
	for _, data := range samples() {
		f.Add(data)
	}
	f.Add(behindStart(plainJPEG(), segment(0xE1, "Exif\x00\x00"+turnedExif(binary.LittleEndian, "II*\x00")), segment(0xE2, "ICC_PROFILE\x00\x01\x01"+profile(60)), segment(0xFE, "x")))
	f.Add(behindHeader(plainPNG(), chunk("eXIf", turnedExif(binary.BigEndian, "MM\x00*")), chunk("iCCP", "a\x00\x00b")))
	f.Fuzz(func(t *testing.T, data []byte) {
		kind := pictures.Kind(data)
		out, err := pictures.WithoutPlace(data, "")
		if err != nil {
			return
		}
		if len(out) > len(data)+64 {
			t.Fatalf("%d bytes became %d", len(data), len(out))
		}
		if pictures.Kind(out) != kind {
			t.Fatalf("%s became %q", kind, pictures.Kind(out))
		}
		if again, err := pictures.WithoutPlace(out, kind); err != nil || !bytes.Equal(out, again) {
			t.Fatalf("cleaned again: %v, %d and %d bytes", err, len(out), len(again))
		}
		if kind == pictures.WebP {
			return
		}
		if c, _, err := image.DecodeConfig(bytes.NewReader(data)); err != nil || c.Width > 400 || c.Height > 400 {
			return
		}
		if _, _, err := image.Decode(bytes.NewReader(data)); err == nil {
			samePixels(t, kind, data, out)
		}
	})
}
