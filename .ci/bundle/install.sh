#!/bin/sh
# Installs Leadline from the archive that this script is in: sh install.sh [FOLDER]. No network is used.
set -u
# Whoever runs the server is often somebody else; the data folder has rights of its own.
umask 022
here=$(cd -- "$(dirname -- "$0")" && pwd) || exit 1
folder=${1:-leadline}
version=$(cat "$here/VERSION")

refuse() {
  echo "$1" >&2
  exit 1
}

# Without -I a file of the current folder could stand in for one of Python's own.
says() { "$python" -I -c "$1" "$here" 2>/dev/null; }

find_python() {
  oldest="" unknown=""
  for python in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do
    found=$(says 'import sys; print("%d.%d" % sys.version_info[:2])') || continue
    if [ -f "$here/requirements-$found.txt" ]; then return; fi
    if says 'import sys; sys.exit(sys.version_info < (3, 11))'; then unknown=$found; else oldest=$found; fi
  done
  has=$(cd -- "$here" && echo requirements-*.txt | sed 's/requirements-//g; s/\.txt//g')
  [ -z "$unknown" ] || refuse "This archive has wheels for Python $has, and this machine has Python $unknown. Name another: PYTHON=python3.12 sh install.sh"
  [ -z "$oldest" ] || refuse "Python $oldest is too old: Leadline needs 3.11 or newer. Name another: PYTHON=python3.12 sh install.sh"
  refuse "No Python was found. Leadline needs 3.11 or newer; this archive has wheels for $has."
}

check_platform() {
  wanted=$(cat "$here/PLATFORM")
  this=$(says 'import sysconfig; print(sysconfig.get_platform())')
  [ "$this" = "$wanted" ] || refuse "This archive is for $wanted, and this machine's Python is of $this. Fetch the archive for that."
  case $wanted in
    linux-*)
      says 'import os, sys; kind, number = os.confstr("CS_GNU_LIBC_VERSION").split(); sys.exit(kind != "glibc" or tuple(map(int, number.split("."))) < (2, 28))' ||
        refuse "The wheels need glibc 2.28 or newer, which this machine does not have."
      ;;
  esac
}

check_sums() {
  damaged=$(says '
import hashlib, pathlib, sys
here = pathlib.Path(sys.argv[1])
for line in (here / "SHA256SUMS").read_text().splitlines():
    wanted, _, name = line.partition("  ")
    path = here / name
    if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != wanted:
        print(name)
') || refuse "SHA256SUMS can't be read. Unpack the archive again."
  [ -z "$damaged" ] || refuse "Damaged, or not there: $(echo "$damaged" | tr '\n' ' ')
Nothing was installed. Hold the archive to its own sum, fetch it again if that is wrong, and unpack it again."
}

make_folder() {
  made=""
  if [ ! -e "$folder" ]; then
    mkdir -p -- "$folder" 2>/dev/null || refuse "$folder can't be made here: you may not write there. Name another folder, or install as somebody who may."
    made=yes
  fi
  [ -d "$folder" ] || refuse "$folder is not a folder. Name another."
  [ -z "$(ls -A -- "$folder")" ] || refuse "$folder is not empty. Name one that is, or one that is not there yet."
  folder=$(cd -- "$folder" && pwd) || refuse "$folder can't be entered."
  # Asking is not enough: what may be written can't be where the disk is mounted for reading.
  ( : > "$folder/.leadline" ) 2>/dev/null || refuse "$folder can't be written to. Name another folder, or install as somebody who may."
  rm -f -- "$folder/.leadline"
}

# What was made so far is ours alone, for the folder was empty.
undo() {
  rm -rf -- "$folder"/* "$folder"/.[!.]*
  [ -z "$made" ] || rmdir -- "$folder"
  refuse "$1 Nothing was left behind in $folder."
}

install_all() {
  "$python" -I -m venv --without-pip "$folder" || undo "Python's module venv does not work here (on Debian it is in the package python3-venv)."
  pip=$(echo "$here"/wheels/pip-*.whl)
  env -i PATH="$PATH" HOME="$folder" PIP_CONFIG_FILE=/dev/null "$folder/bin/python" "$pip/pip" install --quiet --no-cache-dir \
    --disable-pip-version-check --no-index --find-links "$here/wheels" --only-binary=:all: --require-hashes --compile \
    --requirement "$here/requirements-$found.txt" || undo "pip could not install it; its words are above."
  said=$("$folder/bin/leadline" --version) || undo "It was installed, and does not run."
  [ "$said" = "leadline $version" ] || undo "It says “$said”, and should say “leadline $version”."
}

find_python
check_platform
check_sums
make_folder
trap 'undo "Stopped."' INT TERM HUP
echo "Installing Leadline $version into $folder with Python $found."
install_all
echo "Leadline $version is installed. To see it:   $folder/bin/leadline demo"
echo "To serve your own runs:                  $folder/bin/leadline serve"
