#!/usr/bin/env bash
# Installs what building and measuring need on Debian 12 (root or sudo), and Rust where there is
# none. Asks before it changes anything where there is a terminal to ask at; --yes doesn't ask.
set -euo pipefail
cd "$(dirname "$0")/.."

yes=false
[ "${1:-}" = --yes ] && yes=true
packages=(libavcodec-dev libavformat-dev libavutil-dev libswscale-dev libswresample-dev
          libavfilter-dev libavdevice-dev libclang-dev clang pkg-config gcc ca-certificates curl
          python3 python3-pip python3-venv unzip ffmpeg)

ask() {
  $yes && return 0
  # Started by a script: whoever wrote that asked for it.
  [ -t 0 ] || return 0
  read -r -p "$1 [y/N] " answer
  [ "$answer" = y ] || [ "$answer" = Y ]
}

missing=()
for p in "${packages[@]}"; do
  dpkg-query -W -f='${Status}' "$p" 2>/dev/null | grep -q 'install ok installed' || missing+=("$p")
done
if [ ${#missing[@]} -gt 0 ]; then
  echo "Missing packages: ${missing[*]}"
  ask "Install them?" || { echo "Nothing was installed. Install them yourself and run this again." >&2; exit 1; }
  root=()
  if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null || {
      echo "You are not root, and sudo is not here. Run this as root: apt-get update && apt-get install ${missing[*]}" >&2; exit 1; }
    root=(sudo)
  fi
  "${root[@]}" apt-get update -q
  "${root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "${missing[@]}"
fi

if ! command -v cargo >/dev/null && [ -f "$HOME/.cargo/env" ]; then . "$HOME/.cargo/env"; fi
if ! command -v cargo >/dev/null; then
  echo "Rust is not installed."
  ask "Install it by its official installer (into your home folder)?" || { echo "Install Rust yourself and run this again." >&2; exit 1; }
  installer=$(mktemp)
  trap 'rm -f "$installer"' EXIT
  curl --proto '=https' --tlsv1.2 -sSf --retry 2 https://sh.rustup.rs -o "$installer" &&
    sh "$installer" -y --profile minimal --default-toolchain none || {
    version=$(sed -n 's/^channel = "\(.*\)"/\1/p' rust-toolchain.toml)
    echo "Rust could not be fetched. Check the network, or install Rust $version your own way, and run this again." >&2; exit 1; }
fi
