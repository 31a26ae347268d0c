#!/usr/bin/env bash
# Makes sure that programs are there which a target needs beyond Go and Node.
# As root on Debian it installs what is missing; otherwise it names the exact
# command and fails. Usage: scripts/need.sh chromium certutil gcc qemu node
set -euo pipefail

program_of() {
  case $1 in
    qemu) echo qemu-aarch64-static ;;
    node) echo npm ;;
    *) echo "$1" ;;
  esac
}

packages_of() {
  case $1 in
    chromium) echo chromium fonts-dejavu-core fonts-liberation ;; # without fonts the pictures have no letters
    certutil) echo libnss3-tools ;;                                # installs an authority for chromium in a test
    exiftool) echo libimage-exiftool-perl ;;                       # what a photo still tells of its place
    dwebp) echo webp ;;                                            # a second reader of photos
    ffmpeg) echo ffmpeg ;;                                         # reads and copies footage, for users too; brings ffprobe
    pdftotext) echo poppler-utils ;;                               # a second reader of PDF; brings pdffonts and pdfinfo
    gcc) echo gcc libc6-dev ;;                                     # the race detector
    qemu) echo qemu-user-static ;;                                 # tests of another architecture
    xmllint) echo libxml2-utils ;;                                 # checks XML of a data package against schemas
    *) echo "$1" ;;
  esac
}

missing=()
for need in "$@"; do
  command -v "$(program_of "$need")" >/dev/null || missing+=("$need")
done
[ ${#missing[@]} -gt 0 ] || exit 0

packages=()
for need in "${missing[@]}"; do
  if [ "$need" = node ]; then
    echo "Node (20 or newer, with npm) is missing: install it from nodejs.org or your distribution." >&2
    exit 1
  fi
  read -ra more <<<"$(packages_of "$need")"
  packages+=("${more[@]}")
done
install="apt-get -o DPkg::Lock::Timeout=900 install -y --no-install-recommends ${packages[*]}"

if ! command -v apt-get >/dev/null; then
  echo "Missing: ${missing[*]}. On Debian the packages are: ${packages[*]}; install their like on this system." >&2
  exit 1
fi
if [ "$(id -u)" -ne 0 ]; then
  echo "Missing: ${missing[*]}. Install with:" >&2
  echo "  sudo apt-get update && sudo $install" >&2
  exit 1
fi
echo "Installing: ${packages[*]}"
export DEBIAN_FRONTEND=noninteractive
apt-get -qq update
$install </dev/null
