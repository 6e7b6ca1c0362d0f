#!/usr/bin/env bash
# Builds the video libraries for Windows (x86-64) with Debian's compilers for it, from the same sources
# and with the same formats as for Linux (formats.sh). Import libraries lie in PREFIX/lib, DLLs in PREFIX/bin.
#
# usage: bash pipelines/package/windows-libraries.sh SOURCES PREFIX
#   SOURCES: a folder with the unpacked ffmpeg, openh264 and dav1d (built in place)
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
sources=$(cd "$1" && pwd) prefix=$(mkdir -p "$2" && cd "$2" && pwd)
jobs=${JOBS:-2}
export LC_ALL=C TZ=UTC
. "$here/formats.sh"
cross=x86_64-w64-mingw32
static=$sources/static
cd "$sources"

# The compilers whose threads are the system's own would lack C++'s threads, which OpenH264 doesn't use.
(cd openh264 && make -j"$jobs" ARCH=x86_64 OS=mingw_nt BUILDTYPE=Release PREFIX="$static" \
  CC=$cross-gcc CXX=$cross-g++ AR=$cross-ar install-static >../openh264.log 2>&1)
meson setup --buildtype=release --default-library=static --prefix="$static" --libdir=lib \
  --cross-file=dav1d/package/crossfiles/$cross.meson -Denable_tools=false -Denable_tests=false dav1d dav1d-build >dav1d.log 2>&1
ninja -C dav1d-build -j"$jobs" install >>dav1d.log 2>&1

cd ffmpeg
# The words of configure stand in the libraries: none of them names a place of the building machine.
PKG_CONFIG_LIBDIR=$static/lib/pkgconfig ./configure --prefix=/build/ffmpeg --enable-cross-compile --cross-prefix=$cross- \
  --arch=x86_64 --target-os=mingw32 --pkg-config=pkg-config --enable-w32threads \
  --extra-ldflags="-static-libgcc -static-libstdc++ -static" "${formats[@]}" >../configure.log 2>&1 \
  || { tail -30 ../configure.log ffbuild/config.log >&2; exit 1; }
grep -q '^License: LGPL version 2.1 or later' ../configure.log || { grep '^License' ../configure.log >&2; exit 1; }
make -j"$jobs" >../make.log 2>&1 || { tail -30 ../make.log >&2; exit 1; }
make DESTDIR="$prefix.whole" install >>../make.log 2>&1
rm -rf "$prefix" && mv "$prefix.whole/build/ffmpeg" "$prefix" && rm -r "$prefix.whole"
