#!/usr/bin/env bash
# One static program that runs on any Linux of this processor, and a Debian package of it, into target/package.
# Wants what a build wants, and dpkg-deb for the package.
set -euo pipefail
cd "$(dirname "$0")/.."
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)
out=$PWD/target/package
rm -rf "$out" && mkdir -p "$out"

# The flag goes to the program alone: what it is linked from (HDF5 too) is static already and is not built again.
cargo rustc --release --locked --bin slenderjet -- -C target-feature=+crt-static
cp target/release/slenderjet "$out/slenderjet"
strip "$out/slenderjet"
if readelf -d "$out/slenderjet" 2>/dev/null | grep -q NEEDED; then
  echo "the program still needs shared libraries" >&2
  exit 1
fi

command -v dpkg-deb >/dev/null || { echo "no dpkg-deb: only the static program was made"; exit 0; }
root=$out/root
doc=$root/usr/share/doc/slenderjet
install -D -m 755 "$out/slenderjet" "$root/usr/bin/slenderjet"
"$out/slenderjet" man -o "$out/man1" -q
install -d "$root/usr/share/man/man1" "$doc"
for page in "$out"/man1/*.1; do gzip -9nc "$page" >"$root/usr/share/man/man1/$(basename "$page").gz"; done
install -d "$root/usr/share/bash-completion/completions" "$root/usr/share/zsh/vendor-completions" "$root/usr/share/fish/vendor_completions.d"
"$out/slenderjet" completions bash >"$root/usr/share/bash-completion/completions/slenderjet"
"$out/slenderjet" completions zsh >"$root/usr/share/zsh/vendor-completions/_slenderjet"
"$out/slenderjet" completions fish >"$root/usr/share/fish/vendor_completions.d/slenderjet.fish"
cp README.md LICENSE-MIT LICENSE-APACHE CITATION.cff "$doc/"
gzip -9nc CHANGELOG.md >"$doc/changelog.gz"
arch=$(dpkg --print-architecture)
install -d "$root/DEBIAN"
cat >"$root/DEBIAN/control" <<CONTROL
Package: slenderjet
Version: $version
Section: science
Priority: optional
Architecture: $arch
Maintainer: The slenderjet authors <maintainers@slenderjet.example>
Installed-Size: $(du -sk "$root/usr" | cut -f1)
Description: simulator of drop formation in glass-capillary devices
 Reduced-order simulation of dripping and jetting threads through pinch-off:
 drop sizes, satellites, rates, regime maps, figures and reports.
CONTROL
dpkg-deb --root-owner-group --build "$root" "$out/slenderjet_${version}_$arch.deb" >/dev/null
rm -rf "$root" "$out/man1"
ls -l "$out"
