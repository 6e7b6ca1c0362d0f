#!/usr/bin/env bash
# Makes the release from a clean clone, for Linux on x86-64 with a C library of 2019 or later:
#   quarterturn-VERSION-linux-x86_64.tar.gz   a folder: unpack it anywhere and run it
#   quarterturn_VERSION_amd64.deb             the same for Debian and its kin
#   quarterturn-VERSION-py3-none-….whl        the same for pip; the runtime library comes from PyPI's onnxruntime
#   quarterturn-VERSION-library-sources.tar   what the video libraries in it were built from (their licence asks for it)
#   SHA256SUMS, quarterturn-VERSION.cdx.json  checksums; the bill of materials (CycloneDX)
#
# usage: bash pipelines/package.sh [--out DIR] [--yes]      (DIR: package-out; --yes: don't ask before installing)
#
# Runs on Debian 12 as root: the program is built inside a Debian 11 of its own, whose C library is
# old enough for all newer systems. What it fetches and builds is kept in QUARTERTURN_PACKAGE_WORK
# (target/package) for the next time, JOBS (2) says how many cores it takes.
#
# What is packaged is the last commit. The same commit is to give the same bytes wherever the clone lies:
# times are the commit's, the build system is always at the same place, nothing is fetched without
# its checksum. Not held: Debian 11's own compilers, which change should Debian ever mend them.
set -euo pipefail
cd "$(dirname "$0")/.."
parts=pipelines/package
out=package-out yes=()
while [ $# -gt 0 ]; do
  case $1 in
    --out) out=$2; shift 2 ;;
    --yes) yes=(--yes); shift ;;
    *) sed -n '2,15s/^# \{0,1\}//p' "$0" >&2; exit 2 ;;
  esac
done
[ "$(id -u)" = 0 ] || { echo "Packaging builds inside a system of its own, which only root can lay. Run this as root." >&2; exit 1; }
git diff --quiet HEAD || echo "note: what is not committed is not packaged" >&2

bash pipelines/install-packages.sh "${yes[@]}"
if ! command -v cargo >/dev/null; then . "$HOME/.cargo/env"; fi
tools=()
for p in debootstrap dpkg-dev xz-utils binutils; do
  dpkg-query -W -f='${Status}' "$p" 2>/dev/null | grep -q 'install ok installed' || tools+=("$p")
done
[ ${#tools[@]} = 0 ] || DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "${tools[@]}"

work=${QUARTERTURN_PACKAGE_WORK:-target/package}
mkdir -p "$work" "$out"
work=$(cd "$work" && pwd) out=$(cd "$out" && pwd)
bash "$parts/fetch.sh" "$work"

base=$work/base build=$work/base/build
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)
SOURCE_DATE_EPOCH=$(git log -1 --format=%ct)
export SOURCE_DATE_EPOCH LC_ALL=C TZ=UTC
umask 022

# Runs a script inside the build system, in name spaces of its own: nothing stays mounted.
inside() {
  mkdir -p "$build"/{cargo,rust}
  unshare --mount bash -euc '
    mount -t proc proc "$1/proc"; mount --bind /dev "$1/dev"
    mount --bind "$2" "$1/build/cargo"; mount --bind "$3" "$1/build/rust"
    exec chroot "$1" bash "$4"' inside "$base" "$work/cargo" "$(rustc --print sysroot)" "/build/$1"
}

mkdir -p "$build"
cp "$parts/libraries.sh" "$parts/formats.sh" "$parts/program.sh" "$build/"
stamp=$(cat "$parts/libraries.sh" "$parts/formats.sh" "$parts/sources.sha256" | sha256sum)
if [ "$(cat "$work/libraries.done" 2>/dev/null)" != "$stamp" ]; then
  rm -rf "$work/libraries.done" "$build/sources" "$build/static" "$build/ffmpeg"
  mkdir -p "$build/sources"
  for name in ffmpeg openh264 dav1d; do
    dpkg-source --no-check -q -x "$work/sources/$name"_*.dsc "$build/sources/$name"
  done
  echo "building the video libraries"
  inside libraries.sh
  echo "$stamp" >"$work/libraries.done"
fi

# Files get the present time, or cargo takes what another commit built for fresh; the same source
# stays as it lies, so that only the packing is done again.
rm -rf "$build/source.new" && mkdir -p "$build/source.new"
git archive HEAD -- Cargo.toml Cargo.lock rust-toolchain.toml src pipelines docs examples | tar -x --touch -C "$build/source.new"
if ! diff -qr --exclude='*.sh' --exclude='*.md' --exclude=package "$build/source.new" "$build/source" >/dev/null 2>&1; then
  rm -rf "$build/source" && mv "$build/source.new" "$build/source"
fi
echo "building the program"
inside program.sh

stage=$work/stage name=quarterturn-$version-linux-x86_64
rm -rf "$stage" && mkdir -p "$stage"
git archive HEAD | tar -x -C "$(mkdir -p "$stage/tree" && echo "$stage/tree")"
cp -a runtime "$stage/tree/"
python3 "$parts/folder.py" --tree "$stage/tree" --build "$build" --cargo "$work/cargo" --version "$version" --folder "$stage/$name"
bash "$parts/symbols.sh" "$stage/$name"
# Every file's time is the commit's, so that each archive below is the same each time.
find "$stage/$name" -exec touch --no-dereference --date="@$SOURCE_DATE_EPOCH" {} +

rm -f "$out"/quarterturn[-_]* "$out/SHA256SUMS"
cp "$stage/$name/doc/quarterturn.cdx.json" "$out/quarterturn-$version.cdx.json"
tar --sort=name --owner=0 --group=0 --numeric-owner --format=gnu -C "$stage" -cf - "$name" | gzip -9n >"$out/$name.tar.gz"
bash "$parts/debian.sh" "$stage/$name" "$version" "$out/quarterturn_${version}_amd64.deb"
python3 "$parts/wheel.py" "$stage/$name" "$version" "$out"
tar --sort=name --owner=0 --group=0 --numeric-owner --format=gnu --mtime="@$SOURCE_DATE_EPOCH" \
  -cf "$out/quarterturn-$version-library-sources.tar" -C "$work" sources -C "$PWD/$parts" libraries.sh formats.sh sources.sha256
(cd "$out" && sha256sum quarterturn[-_]* >SHA256SUMS && ls -l quarterturn[-_]* && cat SHA256SUMS)
