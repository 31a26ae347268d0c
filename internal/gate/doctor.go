package gate

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"strconv"
	"strings"

	"brinefield/internal/authority"
)

// Doctor looks, and changes nothing: whether the folder of keys is this user's
// alone, whether the port is free, and at which addresses tablets would find
// this laptop.
func Doctor(dir string) (ok bool, found, remedy string) {
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		found = "the folder of keys is made when tablets are let in"
	case err != nil:
		return false, err.Error(), "Name another folder with --keys DIR."
	case info.Mode().Perm()&0o077 != 0 && runtime.GOOS != "windows":
		return false, fmt.Sprintf("others can look into it (mode %04o)", info.Mode().Perm()), fmt.Sprintf("If only you use this laptop: chmod 700 '%s'", dir)
	default:
		found = "only you can look into it"
	}
	port := New(Options{Keys: dir}).keptPort()
	l, err := listen(":"+strconv.Itoa(port), "tablets")
	if err != nil {
		return false, found + "; " + err.Error(), "End what has the port (perhaps another window of this program that lets tablets in), or choose another with brinefield serve --tablet-port."
	}
	_ = l.Close()
	found += fmt.Sprintf("; port %d is free", port)
	all, err := authority.MachineAddresses()
	if err != nil {
		return false, found + "; " + err.Error(), ""
	}
	var names []string
	for _, a := range all {
		if authority.Permitted(a) && !a.IsLoopback() && !(a.Is6() && a.IsLinkLocalUnicast()) {
			names = append(names, a.String())
		}
	}
	if len(names) == 0 {
		return true, found + "; this machine is in no private net now", "Join the net of the boat, or open a hotspot on the laptop, before tablets are let in."
	}
	return true, found + "; addresses in private nets: " + strings.Join(names, ", "), ""
}
