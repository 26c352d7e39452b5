# Read by the other scripts: installs what is missing, or says how. Works without apt where nothing is missing.

# as_root: may packages be installed?
as_root() { [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; }

# need_packages PACKAGE…: installs Debian packages; without root, names them with the exact command and stops.
need_packages() {
    if ! as_root; then
        echo "missing: $*" >&2
        echo "install with: sudo apt-get update && sudo apt-get install --yes --no-install-recommends $*" >&2
        exit 4
    fi
    echo "installing $*" >&2
    DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 update -qq </dev/null >/dev/null
    DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 install -qq --yes --no-install-recommends "$@" </dev/null >/dev/null
}

# need_build: Rust, the C compiler and headers that the bundled SQLite is built with, and libclang for the camera.
need_build() {
    if ! command -v cargo >/dev/null 2>&1; then
        [ -x "${HOME:-}/.cargo/bin/cargo" ] && PATH=$HOME/.cargo/bin:$PATH
    fi
    if ! command -v cargo >/dev/null 2>&1; then
        echo "missing: a Rust toolchain (cargo), at least $(sed -n 's/^rust-version = "\(.*\)"$/\1/p' "$root/Cargo.toml"); see rust-lang.org" >&2
        exit 4
    fi
    if ! command -v cc >/dev/null 2>&1 || ! echo '#include <stdio.h>' | cc -E - >/dev/null 2>&1; then
        need_packages gcc libc6-dev
    fi
    need_libclang
}

# need_libclang: what the camera's headers are read with.
need_libclang() {
    [ -z "${LIBCLANG_PATH:-}" ] || return 0
    for library in /usr/lib/llvm-*/lib/libclang*.so* /usr/lib/*/libclang*.so* /usr/lib64/libclang*.so*; do
        case $library in *libclang-cpp.*) continue ;; esac # what the compiler clang is made of
        [ ! -e "$library" ] || return 0
    done
    need_packages libclang-dev
}

# need_tool PROGRAM: one of cargo's helpers, built from its crate into target/tools where it is not installed. Built fast: it runs once.
need_tool() {
    local tools=$root/target/tools
    command -v "$1" >/dev/null 2>&1 && return
    if [ ! -x "$tools/bin/$1" ]; then
        CARGO_PROFILE_DEV_DEBUG=0 CARGO_INCREMENTAL=0 \
            cargo install --quiet --locked --profile dev --root "$tools" --target-dir "$tools/build" "$1" </dev/null >&2 || return 1
        rm -rf "$tools/build"
    fi
    PATH=$PATH:$tools/bin
}
