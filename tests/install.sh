# shellcheck shell=bash
# Sourced by demo/run and tests/run. Gives oxherd_install_page, and oxherd_install GROUP...: makes sure that the packages of these groups of
# tests/packages are there. Says what is missing before it installs anything; without root it installs nothing and names
# the command to type.

oxherd_packages_file="$(dirname "${BASH_SOURCE[0]}")/packages"

# oxherd_packages GROUP...: the packages of these groups, one a line. An unknown group is a mistake, not an empty list.
oxherd_packages() {
  local group
  for group in "$@"; do
    if ! grep -qx "#: $group" "$oxherd_packages_file"; then
      echo "tests/install.sh: tests/packages has no group \"$group\"" >&2
      return 2
    fi
    awk -v wanted="$group" '/^#: /{inside = ($2 == wanted); next} inside && !/^#/ && NF {print $1}' "$oxherd_packages_file"
  done
}

# oxherd_missing GROUP...: those of them that are neither installed nor provided by an installed package (a newer nodejs
# from elsewhere brings npm itself and conflicts with the package of that name).
oxherd_missing() {
  local packages package there
  packages=$(oxherd_packages "$@") || return
  there=$(dpkg-query --show --showformat '${db:Status-Status},${Package},${Provides}\n' |
    awk -F, '$1 == "installed" {for (i = 2; i <= NF; ++i) {split($i, words, " "); print words[1]}}')
  for package in $packages; do
    grep -qxF "$package" <<<"$there" || echo "$package"
  done
}

oxherd_install() {
  local missing
  local -a command
  missing=$(oxherd_missing "$@") || return
  if [[ -z $missing ]]; then
    return 0
  fi
  missing=${missing//$'\n'/ }
  read -ra command <<<"apt-get install --no-install-recommends --yes $missing"
  echo "Missing packages: $missing"
  if ((EUID == 0)); then
    echo "Installing them: ${command[*]}"
    export DEBIAN_FRONTEND=noninteractive
    "${command[@]}" || { apt-get update && "${command[@]}"; }
  elif command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
    echo "Installing them: sudo ${command[*]}"
    command=(sudo DEBIAN_FRONTEND=noninteractive "${command[@]}")
    "${command[@]}" || { sudo apt-get update && "${command[@]}"; }
  else
    echo "This needs root. Type this, then start again:" >&2
    echo "  sudo ${command[*]}" >&2
    return 1
  fi
}

# The one library of the page, from npm, as daemon/web/package-lock.json names it.
oxherd_install_page() {
  local web
  web="$(dirname "${BASH_SOURCE[0]}")/../daemon/web"
  if [[ -e $web/node_modules/uplot/dist/uPlot.esm.js ]]; then return 0; fi
  npm ci --prefix "$web" --no-audit --no-fund
}
