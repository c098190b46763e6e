# Shared by script/start and script/test: system packages and the virtual environment.
# POSIX sh. The caller has changed to the project's folder.

say() { printf '%s: %s\n' "$NAME" "$*"; }
fail() { printf '%s: %s\n' "$NAME" "$*" >&2; exit 1; }

has_library() {
    { /sbin/ldconfig -p 2>/dev/null || ldconfig -p 2>/dev/null; } | grep -q "$1" ||
        ls /usr/lib/*/"$1"* >/dev/null 2>&1
}

has_package() {
    case $1 in
    python3) command -v python3 >/dev/null 2>&1 ;;
    python3-venv) python3 -c 'import ensurepip' >/dev/null 2>&1 ;;
    libpango-1.0-0) has_library libpango-1.0.so.0 ;;
    libpangoft2-1.0-0) has_library libpangoft2-1.0.so.0 ;;
    libharfbuzz-subset0) has_library libharfbuzz-subset.so.0 ;;
    libatomic1) has_library libatomic.so.1 ;;
    fonts-dejavu-core) ls /usr/share/fonts/truetype/dejavu/DejaVuSans.ttf >/dev/null 2>&1 ;;
    fonts-noto-core) ls /usr/share/fonts/truetype/noto/NotoSansThai-Regular.ttf >/dev/null 2>&1 ;;
    chromium | git) command -v "$1" >/dev/null 2>&1 ;;
    *) dpkg -s "$1" >/dev/null 2>&1 ;;
    esac
}

# missing_packages run|test: prints what is not there yet.
missing_packages() {
    sed -n "s/^$1 //p" script/packages.txt | while read -r package; do
        has_package "$package" || printf ' %s' "$package"
    done
}

# A Python that is there must be new enough; one that is not yet there comes with apt.
check_python() {
    command -v python3 >/dev/null 2>&1 || return 0
    python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
        fail "Python 3.11 or newer is needed; this is $(python3 -V). Debian 12, Debian 13 and Ubuntu 24.04 bring one."
}

# install_packages LIST: asks before it uses apt, unless root or CI.
install_packages() {
    [ -n "$1" ] || return 0
    command -v apt-get >/dev/null 2>&1 ||
        fail "these system packages are missing:$1. This machine has no apt; install them by its own means."
    become=""
    if [ "$(id -u)" != 0 ]; then
        command -v sudo >/dev/null 2>&1 ||
            fail "these system packages are missing:$1. As root run: apt-get install --no-install-recommends$1"
        become=sudo
        if [ "${CI:-}" != true ]; then
            printf '%s: apt will install:%s. Go on? [y/N] ' "$NAME" "$1"
            read -r answer || answer=n
            case $answer in y | Y | yes) ;; *) fail "nothing was installed." ;; esac
        fi
    fi
    say "installing$1"
    # env comes after sudo, which drops what is set before it.
    # shellcheck disable=SC2086 # the list is words
    { $become apt-get update -qq &&
        $become env DEBIAN_FRONTEND=noninteractive \
            apt-get install -y -qq --no-install-recommends $1 >/dev/null; } ||
        fail "apt could not install:$1. What it said stands above; mend that and run this again."
}

# make_environment: a virtual environment with exactly requirements.txt, kept while that file stays.
make_environment() {
    check_python
    stamp=.venv/.made-$({ cat requirements.txt; python3 -V; } | sha256sum | cut -c1-16)
    [ -e "$stamp" ] && return 0
    say "building the environment, about a minute the first time"
    # One that was left half made is made anew, not mended.
    python3 -m venv --clear .venv
    .venv/bin/python -m pip install --quiet --disable-pip-version-check -r requirements.txt ||
        fail "pip could not install requirements.txt. What it said stands above; run this again once the network is there."
    .venv/bin/python -c 'import weasyprint; assert weasyprint.HTML(string="<p>1").write_pdf()[:4] == b"%PDF"' ||
        fail "a PDF could not be made. What is missing stands above; the system packages are listed in script/packages.txt."
    touch "$stamp"
}
