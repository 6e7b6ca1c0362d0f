#!/usr/bin/env bash
# Not yet run to its end (docs/install.md says how far): the way to a Windows build, for who goes on.
# Builds the program for Windows (x86-64) on Debian 12, without a Windows machine:
#   quarterturn-VERSION-windows-x86_64.zip   a folder: unpack it anywhere and run it
#
# usage: bash pipelines/package/windows.sh [--out DIR]      (DIR: package-out)
#
# Debian's MinGW compiles C and links; Rust's standard library for Windows is compiled here from its
# own source (Debian's package rust-src of the very version of the compiler), as none is to be had
# ready-made from Debian. The video libraries come from the same sources as those for Linux; the
# runtime library is the one in PyPI's package onnxruntime for Windows. tests/windows.sh tries the result
# under Wine. Run as root, after pipelines/package.sh, whose sources and licence pages it takes.
set -euo pipefail
cd "$(dirname "$0")/../.."
parts=$PWD/pipelines/package out=package-out
while [ $# -gt 0 ]; do
  case $1 in
    --out) out=$2; shift 2 ;;
    *) sed -n '2,13s/^# \{0,1\}//p' "$0" >&2; exit 2 ;;
  esac
done
[ "$(id -u)" = 0 ] || { echo "This installs Debian packages. Run it as root." >&2; exit 1; }
if ! command -v cargo >/dev/null; then . "$HOME/.cargo/env"; fi
work=${QUARTERTURN_PACKAGE_WORK:-target/package}
work=$(cd "$work" && pwd) out=$(mkdir -p "$out" && cd "$out" && pwd)
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)
linux=$work/stage/quarterturn-$version-linux-x86_64
[ -d "$linux" ] || { echo "Run pipelines/package.sh first: the folder for Windows takes its models and pages." >&2; exit 1; }
SOURCE_DATE_EPOCH=$(git log -1 --format=%ct)
export SOURCE_DATE_EPOCH LC_ALL=C TZ=UTC

tools=()
for p in g++-mingw-w64-x86-64-posix meson ninja-build nasm zip unzip libclang-dev; do
  dpkg-query -W -f='${Status}' "$p" 2>/dev/null | grep -q 'install ok installed' || tools+=("$p")
done
[ ${#tools[@]} = 0 ] || DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "${tools[@]}"

here=$work/windows
mkdir -p "$here"
bash "$parts/windows-fetch.sh" "$here"
stamp=$(cat "$parts/windows-libraries.sh" "$parts/formats.sh" "$parts/sources.sha256" | sha256sum)
if [ "$(cat "$here/libraries.done" 2>/dev/null)" != "$stamp" ]; then
  rm -rf "$here/libraries.done" "$here/sources" "$here/ffmpeg"
  mkdir -p "$here/sources"
  for name in ffmpeg openh264 dav1d; do
    dpkg-source --no-check -q -x "$work/sources/$name"_*.dsc "$here/sources/$name"
  done
  bash "$parts/windows-libraries.sh" "$here/sources" "$here/ffmpeg"
  echo "$stamp" >"$here/libraries.done"
fi

echo "building the program for Windows"
rm -rf "$here/source" && mkdir -p "$here/source"
git archive HEAD -- Cargo.toml Cargo.lock src pipelines docs examples | tar -x --touch -C "$here/source"
sysroot=/usr/x86_64-w64-mingw32
# The standard library is built with the program (-Z build-std), which a compiler of the stable kind
# does only when told that one means it (RUSTC_BOOTSTRAP). Paths are taken out of the program's texts.
(cd "$here/source" && RUSTC_BOOTSTRAP=1 QUARTERTURN_PACKAGED=1 FFMPEG_DIR=$here/ffmpeg CARGO_TARGET_DIR=$here/target CARGO_HOME=$work/cargo \
  BINDGEN_EXTRA_CLANG_ARGS_x86_64_pc_windows_gnu="--target=x86_64-w64-mingw32 -I$sysroot/include" \
  CARGO_TARGET_X86_64_PC_WINDOWS_GNU_RUSTFLAGS="--remap-path-prefix=$work=/build -C link-arg=-static-libgcc" \
  PATH=$here/rust/bin:$PATH cargo rustc --release --locked --target x86_64-pc-windows-gnu -Z build-std=std,panic_unwind \
  --bin quarterturn -j "${JOBS:-2}" -- -C strip=symbols)

name=quarterturn-$version-windows-x86_64
folder=$here/stage/$name
rm -rf "$here/stage" && mkdir -p "$folder/runtime" "$folder/doc"
cp "$here/target/x86_64-pc-windows-gnu/release/quarterturn.exe" "$folder/"
# Windows looks for libraries beside the program. Each library is there once, without import stubs.
for library in avcodec avformat avutil swscale swresample; do
  cp "$here/ffmpeg/bin/$library"-*.dll "$folder/"
done
x86_64-w64-mingw32-strip --strip-unneeded "$folder"/*.dll
cp "$here/onnxruntime/"onnxruntime.dll "$folder/runtime/"
cp -r "$linux"/{models,LICENSE} "$folder/"
cp -r "$linux"/doc/. "$folder/doc/"
python3 "$parts/windows-pages.py" "$here/source" "$work/cargo" "$folder" "$version"
sed 's/$/\r/' "$parts/files/START-windows.txt" >"$folder/START.txt"
sed 's/$/\r/' "$parts/files/start.cmd" >"$folder/start.cmd"
bash "$parts/windows-needs.sh" "$folder"
(cd "$folder" && find . -type f ! -name SHA256SUMS -printf '%P\n' | sort | xargs -d '\n' sha256sum >SHA256SUMS)
find "$here/stage" -exec touch --date="@$SOURCE_DATE_EPOCH" {} +
rm -f "$out/$name.zip"
(cd "$here/stage" && find "$name" -type f | sort | zip -q -X -9 "$out/$name.zip" -@)
ls -l "$out/$name.zip"
(cd "$out" && sha256sum "$name.zip")
