package files

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// Place is what could be told of where a folder lies.
type Place struct {
	Elements   []string // of the path, from the top; links followed
	FileSystem string   // in the system's own word, such as "nfs4", "apfs"; "" where it does not say
	Remote     bool     // the system itself says that the drive is another machine's
	Markers    []string // names of files that a sync service keeps in the folder or above it
	CloudFile  bool     // the system says that the folder's content may lie elsewhere
}

// PlaceNote says why a place can damage a study, for the user to read.
type PlaceNote struct {
	Found string // what was found
	Why   string // what it can do
	Do    string // what to do
}

func (n PlaceNote) String() string { return n.Found + " " + n.Why + " " + n.Do }

const (
	ownDisc     = "Keep the study on this computer's own disc, and put its backups there instead."
	networkWhy  = "Such a drive does not always keep two windows from writing at the same time, and may say that entries are safe when they are not: a broken connection can damage the study."
	syncedWhy   = "Such a service copies the study's files while they are written and puts older copies back: entries can be lost, and two machines can each go on with their own."
	unknownWhy  = "What lies behind it cannot be told; where it is another machine or a service, a broken connection can damage the study."
	memoryWhy   = "All that is in it is gone when the computer is switched off."
	fatWhy      = "It cannot keep other users of this computer from reading the study, and can be damaged as a whole when it is pulled out or the power fails."
	ownDiscOnly = "Keep the study on this computer's own disc."
)

// networkSystems are file systems whose files another machine keeps, by the
// names that Linux, macOS and Windows give them. Source: the systems' own
// lists (mount(8) and the kernel's documentation, macOS mount(8)), from memory.
var networkSystems = map[string]string{
	"nfs": "NFS", "nfs3": "NFS", "nfs4": "NFS", "cifs": "SMB", "smb": "SMB", "smb2": "SMB", "smb3": "SMB", "smbfs": "SMB",
	"afs": "AFS", "afpfs": "AFP", "ncpfs": "NCP", "coda": "Coda", "ceph": "Ceph", "lustre": "Lustre", "gpfs": "GPFS", "beegfs": "BeeGFS",
	"webdav": "WebDAV", "davfs": "WebDAV", "davfs2": "WebDAV", "ftp": "FTP", "9p": "a folder of another machine", "virtiofs": "a folder of another machine",
	"vboxsf": "a folder of another machine", "vmhgfs": "a folder of another machine", "prl_fs": "a folder of another machine",
	"sshfs": "SSH", "rclone": "a remote store", "s3fs": "a remote store", "goofys": "a remote store", "gcsfuse": "a remote store", "blobfuse": "a remote store", "blobfuse2": "a remote store",
	"curlftpfs": "FTP", "gvfsd-fuse": "a remote drive of the desktop", "kio-fuse": "a remote drive of the desktop", "glusterfs": "GlusterFS", "cephfs": "Ceph",
	"ocfs2": "a disc shared between machines", "gfs2": "a disc shared between machines",
}

var fatSystems = []string{"vfat", "msdos", "fat", "fat32", "exfat", "exfat-fuse", "fuse.exfat"}

// localFuse are FUSE file systems that keep their files on this machine.
var localFuse = []string{"fuseblk", "ntfs", "ntfs-3g", "exfat", "exfat-fuse", "ext2", "encfs", "gocryptfs", "cryfs", "securefs", "bindfs", "unionfs", "mergerfs", "overlayfs", "fuse-overlayfs", "lxcfs", "apfs", "zfs", "veracrypt"}

// syncedElements are elements of a path by which the folders of sync services
// are known, in lower case.
var syncedElements = []struct {
	element *regexp.Regexp
	service string
}{
	{regexp.MustCompile(`^dropbox( \(.*\))?$`), "Dropbox"},
	{regexp.MustCompile(`^onedrive( - .*)?$`), "OneDrive"},
	{regexp.MustCompile(`^(google ?drive|googledrive-.*|drivefs)$`), "Google Drive"},
	{regexp.MustCompile(`^(icloud ?drive|mobile documents|com~apple~clouddocs)$`), "iCloud"},
	{regexp.MustCompile(`^cloudstorage$`), "a cloud service"}, // macOS keeps all services' folders in it
	{regexp.MustCompile(`^nextcloud$`), "Nextcloud"},
	{regexp.MustCompile(`^owncloud$`), "ownCloud"},
	{regexp.MustCompile(`^box( sync)?$`), "Box"},
	{regexp.MustCompile(`^pcloud ?(drive|sync)$`), "pCloud"},
	{regexp.MustCompile(`^mega(sync.*)?$`), "MEGA"},
	{regexp.MustCompile(`^(seafile|seadrive)$`), "Seafile"},
	{regexp.MustCompile(`^(synologydrive|synology drive)$`), "Synology Drive"},
	{regexp.MustCompile(`^proton ?drive.*$`), "Proton Drive"},
	{regexp.MustCompile(`^(yandex\.disk|yandexdisk)$`), "Yandex Disk"},
	{regexp.MustCompile(`^(resilio sync|btsync)$`), "Resilio Sync"},
	{regexp.MustCompile(`^(syncthing)$`), "Syncthing"},
	{regexp.MustCompile(`^tresorit$`), "Tresorit"},
	{regexp.MustCompile(`^jottacloud$`), "Jottacloud"},
	{regexp.MustCompile(`^creative cloud files.*$`), "Creative Cloud"},
}

// syncMarkers are files that sync services keep in the folders they copy.
var syncMarkers = []struct {
	name    *regexp.Regexp
	service string
}{
	{regexp.MustCompile(`^\.dropbox(\.cache)?$`), "Dropbox"},
	{regexp.MustCompile(`^\.849c9593-d756-4e56-8d6e-42412f2a707b$`), "OneDrive"},
	{regexp.MustCompile(`^\.tmp\.drive(upload|download)$`), "Google Drive"},
	{regexp.MustCompile(`^\.?_?sync_[0-9a-f]+\.db$|^\.sync_journal\.db$|^\.csync_journal\.db$|^\.(nextcloud|owncloud)sync\.log$`), "Nextcloud or ownCloud"},
	{regexp.MustCompile(`^\.stfolder$|^\.stignore$`), "Syncthing"},
	{regexp.MustCompile(`^\.megaignore$`), "MEGA"},
	{regexp.MustCompile(`^\.synologyworkingdirectory$`), "Synology Drive"},
	{regexp.MustCompile(`^\.rslsync.*$|^\.btsync.*$`), "Resilio Sync"},
}

// NotesOfPlace says what is wrong with a place for a study; nothing where
// nothing was found. It cannot know every service: no note is no promise.
func NotesOfPlace(p Place) []PlaceNote {
	var notes []PlaceNote
	if n, ok := noteOfFileSystem(p); ok {
		notes = append(notes, n)
	}
	if n, ok := noteOfSync(p); ok {
		notes = append(notes, n)
	}
	return notes
}

func noteOfFileSystem(p Place) (PlaceNote, bool) {
	system := strings.ToLower(p.FileSystem)
	kind := system
	fuse := kind == "fuse" || kind == "osxfuse" || kind == "macfuse"
	for _, prefix := range []string{"fuse.", "osxfuse_", "macfuse_", "fuse_"} {
		if rest, ok := strings.CutPrefix(kind, prefix); ok {
			kind, fuse = rest, true
		}
	}
	name, network := networkSystems[kind]
	switch {
	case network:
		return PlaceNote{"This folder lies on a network drive (" + name + ").", networkWhy, ownDisc}, true
	case p.Remote:
		return PlaceNote{"This folder lies on a network drive.", networkWhy, ownDisc}, true
	case slices.Contains(fatSystems, system) || slices.Contains(fatSystems, kind):
		return PlaceNote{"This folder lies on a stick or card with the file system " + p.FileSystem + ".", fatWhy, ownDisc}, true
	case system == "tmpfs" || system == "ramfs" || system == "ramdisk":
		return PlaceNote{"This folder lies in the computer's memory (" + p.FileSystem + ").", memoryWhy, ownDiscOnly}, true
	case fuse && !slices.Contains(localFuse, kind):
		return PlaceNote{"This folder lies on a drive that a program provides (" + p.FileSystem + ").", unknownWhy, ownDisc}, true
	}
	return PlaceNote{}, false
}

func noteOfSync(p Place) (PlaceNote, bool) {
	synced := func(service, by string) (PlaceNote, bool) {
		return PlaceNote{"This folder is kept in step by " + service + " (" + by + ").", syncedWhy, ownDisc}, true
	}
	for _, e := range slices.Backward(p.Elements) {
		for _, s := range syncedElements {
			if s.element.MatchString(strings.ToLower(e)) {
				return synced(s.service, "it lies in the folder "+e)
			}
		}
	}
	for _, m := range p.Markers {
		if service := markedBy(m); service != "" {
			return synced(service, "it or a folder above it holds "+m)
		}
	}
	if p.CloudFile {
		return synced("a cloud service", "Windows marks it so")
	}
	return PlaceNote{}, false
}

// markedBy is the sync service that keeps a file of this name, or "".
func markedBy(name string) string {
	for _, m := range syncMarkers {
		if m.name.MatchString(strings.ToLower(name)) {
			return m.service
		}
	}
	return ""
}

// LookAtPlace gathers what can be told of a folder. A folder that is not there
// yet counts as the nearest one above it. What cannot be found out is left out.
func LookAtPlace(dir string) (Place, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return Place{}, err
	}
	missing := []string{}
	for {
		_, err := os.Stat(dir)
		if err == nil {
			break
		}
		if !errors.Is(err, fs.ErrNotExist) || filepath.Dir(dir) == dir {
			return Place{}, err
		}
		missing = append(missing, filepath.Base(dir))
		dir = filepath.Dir(dir)
	}
	real, err := filepath.EvalSymlinks(dir)
	if err != nil {
		return Place{}, err
	}
	place := Place{Elements: elementsOf(real), Markers: markersAbove(real)}
	place.FileSystem, place.Remote, place.CloudFile = fileSystemOf(real)
	slices.Reverse(missing)
	place.Elements = append(place.Elements, missing...)
	return place, nil
}

// elementsOf takes a path apart, its drive or share first.
func elementsOf(path string) []string {
	volume := filepath.VolumeName(path)
	elements := strings.FieldsFunc(path[len(volume):], func(r rune) bool { return r < 0x80 && os.IsPathSeparator(uint8(r)) })
	if volume != "" {
		elements = append([]string{volume}, elements...)
	}
	return elements
}

func markersAbove(dir string) []string {
	var found []string
	for {
		entries, err := os.ReadDir(dir)
		if err == nil { // a folder above that may not be read says nothing
			for _, e := range entries {
				if markedBy(e.Name()) != "" {
					found = append(found, e.Name())
				}
			}
		}
		if filepath.Dir(dir) == dir {
			return found
		}
		dir = filepath.Dir(dir)
	}
}
