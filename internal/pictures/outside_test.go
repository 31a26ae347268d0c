package pictures_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"brinefield/internal/pictures"
)

// outside finds a program that looks at pictures by itself. Where everything must
// be checked (CI), it must be there.
func outside(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil && os.Getenv("CI") != "" {
		t.Fatalf("%s is missing: scripts/need.sh %s", program, program)
	}
	if err != nil {
		t.Skipf("%s, the second reader, is not installed (scripts/need.sh %s)", program, program)
	}
	return path
}

// told is what exiftool writes: where, when, with what and by whom, in every
// group that it can write.
var told = []string{
	"-Exif:GPSLatitude=54.1234", "-Exif:GPSLatitudeRef=N", "-Exif:GPSLongitude=8.6543", "-Exif:GPSLongitudeRef=W", "-Exif:GPSAltitude=3", "-Exif:GPSDateStamp=2026:06:01",
	"-Exif:Artist=Aoife", "-Exif:Copyright=Aoife", "-Exif:Make=Skerry", "-Exif:Model=Skerry 5", "-Exif:SerialNumber=55512345", "-Exif:OwnerName=Aoife",
	"-Exif:DateTimeOriginal=2026:06:01 14:12:00", "-Exif:ImageDescription=Skerrymore", "-Exif:UserComment=Skerrymore", "-Exif:Software=Skerry", "-Exif:HostComputer=Aoife",
	"-XMP:Creator=Aoife", "-XMP:City=Skerrymore", "-XMP:GPSLatitude=54.1234", "-XMP:GPSLongitude=8.6543", "-XMP:Location=Skerrymore", "-XMP:PersonInImage=Aoife",
	"-IPTC:City=Skerrymore", "-IPTC:By-line=Aoife", "-IPTC:Keywords=Skerrymore", "-Comment=Skerrymore", "-PNG:Author=Aoife", "-PNG:Comment=Skerrymore", "-PNG:ModifyDate=2026:06:01 14:12:00",
	"-Exif:Orientation#=6",
}

// TestExiftoolFindsNothing asks ExifTool (Phil Harvey's, Debian's
// libimage-exiftool-perl), which knows some hundred forms of such data.
func TestExiftoolFindsNothing(t *testing.T) {
	exiftool := outside(t, "exiftool")
	for name, picture := range samples() {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), name)
			if err := os.WriteFile(file, picture, 0o600); err != nil {
				t.Fatal(err)
			}
			small := filepath.Join(t.TempDir(), "small.jpg")
			if err := os.WriteFile(small, stored("restarts.jpg"), 0o600); err != nil {
				t.Fatal(err)
			}
			write := append([]string{"-q", "-m", "-overwrite_original", "-Exif:ThumbnailImage<=" + small}, told...)
			// What a format has no place for, exiftool leaves out and says so.
			if out, err := exec.Command(exiftool, append(write, file)...).CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			marked := must(os.ReadFile(file))
			before := tags(t, exiftool, file)
			for _, want := range []string{"GPSLatitude", "Artist", "DateTimeOriginal", "Creator", "Orientation"} {
				if !contains(before, want) {
					t.Fatalf("exiftool wrote no %s: the test hides nothing. It finds %v", want, before)
				}
			}
			clean, err := pictures.WithoutPlace(marked, "")
			if err != nil {
				t.Fatal(err)
			}
			for _, word := range []string{"Aoife", "Skerry", "55512345", "2026:06:01", "GPS", "xmp", "Photoshop"} {
				if bytes.Contains(clean, []byte(word)) {
					t.Errorf("%q is still in it", word)
				}
			}
			if err := os.WriteFile(file, clean, 0o600); err != nil {
				t.Fatal(err)
			}
			for tag, value := range tags(t, exiftool, file) {
				if !plainTag(tag) {
					t.Errorf("exiftool finds %s: %v", tag, value)
				}
			}
			// WebP without the extended header has no place for it; exiftool makes one.
			if got := tags(t, exiftool, file)["IFD0:Orientation"]; got != "Rotate 90 CW" {
				t.Errorf("the orientation is %v; want what was written", got)
			}
			if pictures.Kind(picture) != pictures.WebP {
				samePixels(t, name, marked, clean)
			}
		})
	}
}

// tags are all that exiftool finds, unknown ones too, in the whole file.
func tags(t *testing.T, exiftool, file string) map[string]any {
	t.Helper()
	out, err := exec.Command(exiftool, "-json", "-G1", "-a", "-u", "-U", "-ee", file).Output()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	var found []map[string]any
	if err := json.Unmarshal(out, &found); err != nil || len(found) != 1 {
		t.Fatalf("%v: %s", err, out)
	}
	return found[0]
}

func contains(found map[string]any, tag string) bool {
	for name := range found {
		if strings.HasSuffix(name, ":"+tag) {
			return true
		}
	}
	return false
}

// plainTag: what says how the image is to be shown, and what is of the file here.
func plainTag(tag string) bool {
	group, name, _ := strings.Cut(tag, ":")
	switch group {
	case "SourceFile", "ExifTool", "System", "File", "PNG", "RIFF", "JFIF", "PNG-pHYs":
		return name != "Comment" && name != "ModifyDate" && !strings.Contains(name, "Text")
	case "IFD0":
		return name == "Orientation"
	case "Composite":
		return name == "ImageSize" || name == "Megapixels"
	}
	return false
}

// TestDwebpSeesTheSame: the decoder of libwebp shows the same pixels.
func TestDwebpSeesTheSame(t *testing.T) {
	dwebp := outside(t, "dwebp")
	dir := t.TempDir()
	decoded := func(data []byte) []byte {
		file, pam := filepath.Join(dir, "in.webp"), filepath.Join(dir, "out.pam")
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(dwebp, "-quiet", "-pam", file, "-o", pam).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		return must(os.ReadFile(pam))
	}
	for _, name := range []string{"lossy.webp", "lossless.webp", "alpha.webp"} {
		before := stored(name)
		if a, b := decoded(before), decoded(must(pictures.WithoutPlace(before, pictures.WebP))); !bytes.Equal(a, b) || len(a) < 33*25*3 {
			t.Errorf("%s: %d bytes of pixels, cleaned %d, and they differ", name, len(a), len(b))
		}
	}
}
