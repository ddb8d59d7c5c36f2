# What the scripts beside this share; to be sourced, from the top of the checkout.

say() { printf '%s\n' "$*" >&2; }

fail() {
    say "$(basename "$0"): $*"
    exit 2
}

# install_packages WHAT-FOR PACKAGE...: with apt-get where root may, else one clear line on what to install.
install_packages() {
    local what="$1"
    shift
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
        fail "$what missing. On Debian or Ubuntu: sudo apt-get install $*"
    fi
    say "Installing $* …"
    export DEBIAN_FRONTEND=noninteractive
    apt-get update -qq >&2 && apt-get install -y -qq --no-install-recommends "$@" >&2 ||
        fail "apt-get could not install $*; its messages are above."
}

# The first Python that is new enough, one that can make a .venv before one that cannot. The system's own comes first:
# it is kept up to date with the system, and it was compiled with profiles (one without took a fifth longer over the tests).
find_python() {
    local name any=
    for name in /usr/bin/python3 python3 python3.14 python3.13 python3.12 python3.11; do
        "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || continue
        if "$name" -c 'import ensurepip, venv' 2>/dev/null; then
            command -v "$name"
            return
        fi
        any="${any:-$name}"
    done
    [ -n "$any" ] && command -v "$any"
}

# Its Python is there, is new enough and is the one it was made with; a link that leads nowhere any more is none of that.
venv_works() {
    .venv/bin/python -c 'import pip, sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

make_venv() {
    local python
    venv_works && return
    python="$(find_python)" || install_packages "Python 3.11 or newer is" python3 python3-venv
    python="$(find_python)" || fail "Python 3.11 or newer is needed; this system's is older."
    if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        install_packages "The venv module of $python is" \
            "$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')"
    fi
    say "Making .venv with $python …"
    "$python" -m venv --clear .venv >&2 || fail "$python could not make .venv; its messages are above."
}

# install_pinned FILE: exactly what FILE lists, and Potmark itself, unless that is in place already.
install_pinned() {
    local stamp=".venv/installed-$(basename "$1" .txt)" wanted
    wanted="$(cat deploy/requirements*.txt pyproject.toml | sha256sum | cut -d' ' -f1) $PWD"
    [ -x .venv/bin/potmark ] && [ "$(cat "$stamp" 2>/dev/null)" = "$wanted" ] && venv_works && return
    make_venv
    say "Installing what deploy/$(basename "$1") lists …"
    # All that is needed is listed, so nothing is looked up besides; what the tests use is compiled when first loaded.
    local quick=(--no-deps)
    [ "$(basename "$1")" = requirements-test.txt ] && quick+=(--no-compile)
    .venv/bin/python -m pip install -q --disable-pip-version-check "${quick[@]}" -r "$1" >&2 &&
        .venv/bin/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e . >&2 ||
        fail "pip could not install; its messages are above. It needs the network or a package index."
    need_typesetting
    printf '%s' "$wanted" >"$stamp"
}

# WeasyPrint sets PDFs with libraries of the system: Pango, and HarfBuzz's subsetter.
need_typesetting() {
    .venv/bin/python -c 'import weasyprint' >/dev/null 2>&1 && has_subsetter && return
    install_packages "Libraries that WeasyPrint sets PDFs with are" \
        libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0
    .venv/bin/python -c 'import weasyprint' >&2 || fail "WeasyPrint still does not load; its message is above."
}

has_subsetter() {
    .venv/bin/python -c 'import ctypes; ctypes.CDLL("libharfbuzz-subset.so.0")' 2>/dev/null
}
