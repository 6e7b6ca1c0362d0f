#!/usr/bin/env bash
# Fails where a program or library of the folder wants a newer C or C++ library than the oldest
# system that the release is for (Debian 11: glibc 2.31, GCC 10), or one that is not in every system.
#
# usage: bash pipelines/package/symbols.sh FOLDER
set -euo pipefail
failed=0
newest() { objdump -T "$1" | grep -oE "\b$2_[0-9.]+" | sort -Vu | tail -1 | sed 's/.*_//'; }
later() { [ -n "$1" ] && [ "$(printf '%s\n%s\n' "$1" "$2" | sort -V | tail -1)" != "$2" ]; }
while read -r file; do
  for limit in GLIBC:2.31 GLIBCXX:3.4.28 CXXABI:1.3.12; do
    has=$(newest "$file" "${limit%:*}" || true)
    later "$has" "${limit#*:}" && { echo "$file wants ${limit%:*} $has, newer than ${limit#*:}" >&2; failed=1; }
  done
  while read -r needed; do
    case $needed in
      libc.so.6|libm.so.6|libpthread.so.0|libdl.so.2|librt.so.1|libgcc_s.so.1|libstdc++.so.6|ld-linux-x86-64.so.2) ;;
      *) [ -e "$1/lib/$needed" ] || { echo "$file wants $needed, which the release does not carry" >&2; failed=1; } ;;
    esac
  done < <(objdump -p "$file" | awk '$1 == "NEEDED" { print $2 }')
done < <(find "$1" -type f \( -name '*.so*' -o -name quarterturn \) -not -path '*/completions/*')
exit $failed
