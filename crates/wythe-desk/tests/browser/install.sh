# What the tests need of the machine; read by the scripts that run them.

# install COMMAND PACKAGE...: by whichever package manager there is.
install() {
  local sudo=""
  [ "$(id -u)" = 0 ] || sudo="sudo"
  if command -v apt-get >/dev/null; then
    $sudo apt-get update -qq && $sudo apt-get install -y -qq "$@"
  elif command -v dnf >/dev/null; then
    $sudo dnf install -y -q "$@"
  elif command -v pacman >/dev/null; then
    $sudo pacman -S --noconfirm --needed "$@"
  elif command -v apk >/dev/null; then
    $sudo apk add -q "$@"
  elif command -v brew >/dev/null; then
    brew install "$@"
  else
    echo "install $* by hand; no known package manager was found" >&2
    exit 1
  fi
}

find_browser() {
  for name in chromium chromium-browser google-chrome google-chrome-stable microsoft-edge; do
    if command -v "$name" >/dev/null; then command -v "$name"; return; fi
  done
}
