#!/usr/bin/env bash
# Installs what is missing.
#
#   setup.sh go      only looks whether the Go on the PATH is new enough
#   setup.sh run     what building and running needs
#   setup.sh test    that, and what the tests need
#   setup.sh peers   what building needs with another recogniser beside our ears
#
# Where nothing is missing it asks for nothing and calls no package manager. It never removes a package.
set -euo pipefail
cd "$(dirname "$0")/.."

stop() {
	printf 'set-up: %s\n' "$@" >&2
	exit 1
}

check_go() {
	local need have
	need=$(awk '$1 == "go" { print $2 }' go.mod)
	command -v go >/dev/null || stop "Go is not installed." \
		"Install Go $need or later from https://go.dev/dl/ and put its bin folder first on the PATH."
	have=$(go env GOVERSION 2>/dev/null) || true # Go 1.21 and later may fetch the version that go.mod asks for
	have=${have#go}
	if [ "$(printf '%s\n' "$need" "${have:-0}" | sort -V | head -n 1)" != "$need" ]; then
		have=$(GOTOOLCHAIN=local go version | awk '{ print $3 }')
		stop "This needs Go $need or later; the one on the PATH is $have, in $(command -v go)." \
			"Install a later one from https://go.dev/dl/ and put its bin folder first on the PATH." \
			"(Go 1.21 or later can also fetch it by itself: go env -w GOTOOLCHAIN=auto)"
	fi
}

packages=()
axe=4.14.1
axe_sum=e6b0ce02b84d892e2e33e403485e7f3d6c29e2be6df65daf44d89ba564139745

# want PACKAGE REASON TEST...: installs PACKAGE for REASON unless TEST succeeds.
want() {
	local package=$1 reason=$2
	shift 2
	"$@" >/dev/null 2>&1 && return
	packages+=("$package")
	printf 'set-up: %-22s is missing: %s\n' "$package" "$reason"
}

can_run() { command -v "$1"; }
there_is() { compgen -G "$1"; }
compiles() { echo '#include <stdlib.h>' | cc -E -; }
has_browser() { can_run chromium || can_run chromium-browser || can_run google-chrome || can_run chrome; }
has_axe() { test -f ".build/axe-core/axe.min.js" && test "$(cat .build/axe-core/version)" = "$axe"; }
has_npm() { has_axe || can_run npm; }
has_sound_server() { can_run pulseaudio || can_run pipewire-pulse; }

want_to_run() {
	want gcc "a C compiler: Go calls the sound library through it" can_run cc
	want libc6-dev "the C library's headers, for the same" compiles
	want pkg-config "finds the sound library" can_run pkg-config
	want portaudio19-dev "the sound library: microphone and loudspeaker" pkg-config --exists portaudio-2.0
	want espeak-ng "the voice" can_run espeak-ng
}

want_to_test() {
	want flite "a second voice, which must keep the same contract" can_run flite
	want pocketsphinx-testdata "recorded speech that is no command" there_is /usr/share/pocketsphinx/test/data/cards/001.wav
	want libasound2-plugins "leads the sound library to a sound server" there_is '/usr/lib/*/alsa-lib/libasound_module_pcm_pulse.so'
	want pulseaudio-utils "plays into and records from a private sound server" can_run pactl
	if apt-cache show sctk >/dev/null 2>&1; then # Debian 13 has none: its committed results must do there
		want sctk "NIST's scoring of words, which ours is compared with" test -x /usr/lib/sctk/bin/sclite
	fi
	want pulseaudio "a sound server: the tests run one of their own" has_sound_server
	want chromium "a browser: the tests look at the pages" has_browser
	want postgresql "a database for a whole shop: the tests run one of their own" there_is '/usr/lib/postgresql/*/bin/postgres' # its own cluster is let be
	want npm "fetches the accessibility engine that looks at them too" has_npm
}

want_peers() {
	want libpocketsphinx-dev "the other recogniser" pkg-config --exists pocketsphinx
	want pocketsphinx-en-us "its model" test -d /usr/share/pocketsphinx/model/en-us/en-us
}

# fetch_axe puts the accessibility engine into .build, once.
fetch_axe() {
	has_axe && return
	local dir
	dir=$(mktemp -d)
	echo "set-up: fetching axe-core $axe"
	npm pack --silent --pack-destination "$dir" "axe-core@$axe" >/dev/null || stop "axe-core $axe cannot be fetched from npm."
	sha256sum --check --quiet <<<"$axe_sum  $dir/axe-core-$axe.tgz" || stop "What npm gave is not axe-core $axe as it was tried."
	mkdir -p .build/axe-core
	tar xzf "$dir/axe-core-$axe.tgz" -C .build/axe-core --strip-components 1 package/axe.min.js package/LICENSE
	echo "$axe" >.build/axe-core/version
	rm -r "$dir"
}

install_packages() {
	[ ${#packages[@]} -gt 0 ] || return 0
	command -v apt-get >/dev/null || stop "There is no apt-get here. Install what corresponds to: ${packages[*]}"
	local root=()
	if [ "$(id -u)" != 0 ]; then
		command -v sudo >/dev/null || stop "Run this as root: apt-get install ${packages[*]}"
		root=(sudo)
	fi
	local install=(apt-get install --yes --no-install-recommends "${packages[@]}") plan
	if ! plan=$(apt-get --simulate "${install[@]:1}" 2>&1); then
		"${root[@]}" apt-get update --quiet
		plan=$(apt-get --simulate "${install[@]:1}" 2>&1) || stop "These cannot be installed: ${packages[*]}" "$plan"
	fi
	if grep -q '^Remv ' <<<"$plan"; then
		stop "Installing ${packages[*]} would remove other packages, so it is left to you:" "$(grep '^Remv ' <<<"$plan")"
	fi
	echo "set-up: installing ${packages[*]}"
	"${root[@]}" env DEBIAN_FRONTEND=noninteractive "${install[@]}"
}

case ${1:-} in
go) check_go ;;
run) check_go; want_to_run; install_packages ;;
test) check_go; want_to_run; want_to_test; install_packages; fetch_axe ;;
peers) check_go; want_to_run; want_peers; install_packages ;;
*) stop "Say what for: go, run, test or peers." ;;
esac
