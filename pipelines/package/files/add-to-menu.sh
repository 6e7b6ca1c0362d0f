#!/usr/bin/env bash
# Puts quarterturn into your own menu of programs and among your commands, from the folder where it
# lies now; --remove takes it out again. Changes nothing outside your home.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
data=${XDG_DATA_HOME:-$HOME/.local/share}
entries=$data/applications bin=$HOME/.local/bin icons=$data/icons/hicolor/scalable/apps
if [ "${1:-}" = --remove ]; then
  rm -f "$entries"/quarterturn{,-phones}.desktop "$bin/quarterturn" "$icons/quarterturn.svg"
  echo "taken out; this folder itself you can delete"
  exit
fi
mkdir -p "$entries" "$bin" "$icons"
# A folder's name may hold what the entry's own rules give a meaning (desktop entry specification, "Exec").
quoted=$(printf '%s' "$here/quarterturn" | sed -e 's/[\\"`$]/\\&/g' -e 's/\\/\\\\/g' -e 's/%/%%/g')
for entry in quarterturn quarterturn-phones; do
  while IFS= read -r line; do
    case $line in "Exec=quarterturn "*) line="Exec=\"$quoted\" ${line#Exec=quarterturn }" ;; esac
    printf '%s\n' "$line"
  done <"$here/share/$entry.desktop" >"$entries/$entry.desktop"
done
cp "$here/share/quarterturn.svg" "$icons/"
ln -sf "$here/quarterturn" "$bin/quarterturn"
echo "quarterturn is in your menu of programs, and the command is $bin/quarterturn"
