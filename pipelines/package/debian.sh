#!/usr/bin/env bash
# Makes the Debian package from the release's folder, which it installs whole under /usr/lib/quarterturn.
#
# usage: bash pipelines/package/debian.sh FOLDER VERSION FILE.deb
set -euo pipefail
folder=$1 version=$2 file=$3
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
chmod 755 "$root"
own=$root/usr/lib/quarterturn share=$root/usr/share
mkdir -p "$own" "$root/usr/bin" "$root/DEBIAN" "$share"/{applications,icons/hicolor/scalable/apps,man/man1} \
  "$share/doc/quarterturn" "$share/bash-completion/completions" "$share/zsh/vendor-completions" "$share/fish/vendor_completions.d"
cp -a "$folder"/{quarterturn,lib,models,runtime} "$own/"
ln -s ../lib/quarterturn/quarterturn "$root/usr/bin/quarterturn"
cp -a "$folder"/doc/. "$share/doc/quarterturn/"
cp "$folder"/share/*.desktop "$share/applications/"
cp "$folder"/share/quarterturn.svg "$share/icons/hicolor/scalable/apps/"
cp "$folder"/man/*.1 "$share/man/man1/" && gzip -9n "$share"/man/man1/*.1
cp "$folder"/completions/quarterturn.bash "$share/bash-completion/completions/quarterturn"
cp "$folder"/completions/_quarterturn "$share/zsh/vendor-completions/"
cp "$folder"/completions/quarterturn.fish "$share/fish/vendor_completions.d/"
# Debian's policy wants the licences in a file of this name.
{ cat "$folder/doc/LICENCES.md"; printf '\n'; cat "$folder/LICENSE"; } >"$share/doc/quarterturn/copyright"
{ printf 'quarterturn (%s) stable; urgency=medium\n\n  * Release %s.\n\n -- quarterturn <quarterturn@localhost>  %s\n' \
    "$version" "$version" "$(date -u -R -d "@$SOURCE_DATE_EPOCH")"; } | gzip -9n >"$share/doc/quarterturn/changelog.gz"
cat >"$root/DEBIAN/control" <<CONTROL
Package: quarterturn
Version: $version
Architecture: amd64
Maintainer: quarterturn <quarterturn@localhost>
Installed-Size: $(du -k --apparent-size -s "$root" | cut -f1)
Depends: libc6 (>= 2.31), libgcc-s1, libstdc++6 (>= 10)
Recommends: xdg-utils
Section: video
Priority: optional
Description: how far a golf student's hips and shoulders turned
 Reads one or two phone clips of a golf swing, face-on, down-the-line or both,
 and tells how far hips and shoulders turned, how far apart they were and how
 the student stood at address, top, impact and finish, each with its 95 %
 interval. No sensors, no markers; nothing leaves the computer.
CONTROL
(cd "$root" && find usr -type f -print0 | sort -z | xargs -0 md5sum) >"$root/DEBIAN/md5sums"
find "$root" -type d -exec chmod 755 {} +
find "$root" -exec touch --no-dereference --date="@$SOURCE_DATE_EPOCH" {} +
# xz, as the oldest system's dpkg reads no other dense packing.
dpkg-deb --root-owner-group -Zxz --threads-max=1 --build "$root" "$file" >/dev/null 2>&1 \
  || dpkg-deb --root-owner-group -Zxz --build "$root" "$file" >/dev/null
