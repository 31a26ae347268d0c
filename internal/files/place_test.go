package files

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Which folders the sync services use and which files they leave is from
// their own help pages, from memory.
func TestPlacesThatCanDamageAStudy(t *testing.T) {
	path := func(elements ...string) Place { return Place{Elements: elements, FileSystem: "ext4"} }
	on := func(system string) Place { return Place{Elements: []string{"home", "aoife"}, FileSystem: system} }
	for name, c := range map[string]struct {
		place Place
		want  []string // what each note must say
	}{
		"a disc of its own":           {path("home", "aoife", "Brinefield"), nil},
		"btrfs":                       {on("btrfs"), nil},
		"APFS":                        {Place{Elements: []string{"Users", "aoife", "Documents"}, FileSystem: "apfs"}, nil},
		"NTFS":                        {Place{Elements: []string{"C:", "Users", "aoife"}, FileSystem: "NTFS"}, nil},
		"NTFS under Linux":            {on("fuseblk"), nil},
		"an encrypted folder":         {on("fuse.gocryptfs"), nil},
		"not told":                    {on(""), nil},
		"a number nobody knows":       {on("0x1234"), nil},
		"NFS":                         {on("nfs4"), []string{"network drive (NFS)"}},
		"Samba":                       {on("cifs"), []string{"network drive (SMB)"}},
		"Samba on a Mac":              {on("smbfs"), []string{"network drive (SMB)"}},
		"SSH":                         {on("fuse.sshfs"), []string{"network drive (SSH)"}},
		"SSH on a Mac":                {on("macfuse_sshfs"), []string{"network drive (SSH)"}},
		"a guest's folder":            {on("9p"), []string{"folder of another machine"}},
		"a remote drive of Windows":   {Place{Elements: []string{`\\boat\studies`}, FileSystem: "NTFS", Remote: true}, []string{"network drive."}},
		"FUSE, unknown":               {on("fuse"), []string{"a program provides (fuse)"}},
		"FUSE, a new one":             {on("fuse.seaweed"), []string{"a program provides (fuse.seaweed)"}},
		"a memory card":               {on("vfat"), []string{"stick or card"}},
		"a card under Windows":        {on("exFAT"), []string{"stick or card with the file system exFAT"}},
		"memory":                      {on("tmpfs"), []string{"switched off"}},
		"Dropbox":                     {path("home", "aoife", "Dropbox", "studies"), []string{"kept in step by Dropbox (it lies in the folder Dropbox)"}},
		"Dropbox of a team":           {path("Users", "aoife", "Dropbox (Bay Lab)"), []string{"Dropbox"}},
		"OneDrive":                    {path("C:", "Users", "aoife", "OneDrive - University", "Documents"), []string{"OneDrive"}},
		"iCloud":                      {path("Users", "aoife", "Library", "Mobile Documents", "com~apple~CloudDocs"), []string{"iCloud"}},
		"macOS cloud storage":         {path("Users", "aoife", "Library", "CloudStorage", "Somewhere-aoife"), []string{"a cloud service"}},
		"Google Drive on a Mac":       {path("Users", "aoife", "Library", "CloudStorage", "GoogleDrive-aoife@example.org"), []string{"Google Drive"}},
		"Nextcloud":                   {path("home", "aoife", "Nextcloud"), []string{"Nextcloud"}},
		"only a part of the name":     {path("home", "aoife", "Dropbox notes", "Box jellyfish", "omega"), nil},
		"Syncthing by its mark":       {Place{Elements: []string{"data"}, Markers: []string{".stfolder"}}, []string{"Syncthing (it or a folder above it holds .stfolder)"}},
		"Nextcloud by its mark":       {Place{Elements: []string{"data"}, Markers: []string{".sync_5f3a0b.db"}}, []string{"Nextcloud or ownCloud"}},
		"marked by Windows":           {Place{Elements: []string{"C:", "data"}, CloudFile: true}, []string{"Windows marks it so"}},
		"a share and a sync together": {Place{Elements: []string{"mnt", "Dropbox"}, FileSystem: "nfs"}, []string{"NFS", "Dropbox"}},
	} {
		notes := NotesOfPlace(c.place)
		if len(notes) != len(c.want) {
			t.Errorf("%s: %v, want %d notes", name, notes, len(c.want))
			continue
		}
		for i, n := range notes {
			if !strings.Contains(n.String(), c.want[i]) || n.Why == "" || !strings.Contains(n.Do, "this computer's own disc") {
				t.Errorf("%s: %q, want %q", name, n, c.want[i])
			}
		}
	}
}

func TestAPlaceIsLookedAtThroughLinks(t *testing.T) {
	top, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	synced := filepath.Join(top, "Nextcloud", "studies")
	for _, dir := range []string{filepath.Join(top, ".stfolder"), synced} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	link := filepath.Join(top, "studies")
	if err := os.Symlink(synced, link); err != nil {
		t.Fatal(err)
	}
	place, err := LookAtPlace(filepath.Join(link, "new", "one")) // not there yet
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"Nextcloud", "studies", "new", "one"}, place.Elements[len(place.Elements)-4:]); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{".stfolder"}, place.Markers[len(place.Markers)-1:]); d != "" {
		t.Error(d)
	}
	if err := os.WriteFile(filepath.Join(top, "file"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := LookAtPlace(filepath.Join(top, "file", "below")); err == nil {
		t.Error("a folder below a file was looked at")
	}
}

func TestStudyFolderIsMadePrivate(t *testing.T) {
	if os.PathSeparator == '\\' {
		t.Skip("Windows has no modes")
	}
	for mode, wide := range map[os.FileMode]bool{0o755: true, 0o770: true, 0o701: true, 0o700: false, 0o500: false} {
		dir := t.TempDir()
		if err := os.Chmod(dir, mode); err != nil {
			t.Fatal(err)
		}
		note, err := MakePrivate(dir)
		info, fault := os.Stat(dir)
		if err != nil || fault != nil || info.Mode().Perm()&0o077 != 0 || (note != "") != wide || wide && !strings.Contains(note, "now only you can") {
			t.Errorf("%o: now %v, %q, %v", mode, info.Mode().Perm(), note, err)
		}
	}
}

func TestLittleSpaceIsWarnedOf(t *testing.T) {
	for free, warned := range map[uint64]bool{0: true, 200<<20 - 1: true, 200 << 20: false, 1 << 62: false} {
		if note := SpaceNote(free); (note != "") != warned {
			t.Errorf("%d bytes free: %q", free, note)
		}
	}
}

func TestLookAtStudy(t *testing.T) {
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, ".stfolder"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	notes, readOnly, err := LookAtStudy(dir, true)
	text := strings.Join(notes, "\n")
	if err != nil || readOnly != nil || !strings.Contains(text, "Syncthing") || os.PathSeparator == '/' && !strings.Contains(text, "mode 0755") {
		t.Errorf("%q, %v, %v", notes, readOnly, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 1 {
		t.Errorf("looking left %v, %v", entries, err)
	}
	if _, _, err := LookAtStudy(filepath.Join(dir, "nowhere"), true); err == nil {
		t.Error("a folder that is not there was looked at")
	}
}
