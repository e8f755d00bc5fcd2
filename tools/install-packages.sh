#!/usr/bin/env bash
# install-packages.sh PACKAGE...: installs with apt-get those Debian packages that are missing; through sudo when
# not root. Does nothing, and needs no network, when none is.
set -euo pipefail

missing=()
for package in "$@"; do
  status=$(dpkg-query --show --showformat='${db:Status-Status}' "$package" 2>/dev/null || true)
  [[ $status == installed ]] || missing+=("$package")
done
[[ ${#missing[@]} -gt 0 ]] || exit 0

as_root=()
if [[ $(id -u) -ne 0 ]]; then
  if ! command -v sudo >/dev/null; then
    echo "$0: these packages are missing and neither root nor sudo is at hand: ${missing[*]}" >&2
    echo "$0: install them as root with: apt-get install ${missing[*]}" >&2
    exit 1
  fi
  as_root=(sudo)
fi
echo "Installing ${missing[*]}"
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get update --quiet=2
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install --yes --quiet=2 -o Dpkg::Use-Pty=0 --no-install-recommends \
  "${missing[@]}"
