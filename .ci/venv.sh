#!/bin/sh
# venv.sh 5.0: makes the virtual environment of that Blender or brings it up to date; nothing to do takes no time.
# The environment of the newest Blender on Python 3.11 is the main one, .venv, with all tools for development.
set -eu
cd "$(dirname "$0")/.."

host=$1
wanted=.ci/blender-$host.txt
folder=.venv-blender-$host extras=photo,film,example,test
if [ "$host" = 5.0 ]; then
    folder=.venv extras=dev
fi
stamp=$(cat "$wanted" .ci/constraints.txt .ci/venv.sh pyproject.toml core/pastepot/__init__.py | cksum)
if [ "$(cat "$folder/ready" 2>/dev/null)" = "$stamp" ] && [ -x "$folder/bin/python" ]; then
    exit 0
fi

version=$(sed -n 's/^# python //p' "$wanted")
python=$(sh .ci/find_python.sh "$version")
is_ours="import sys; sys.exit('%d.%d' % sys.version_info[:2] != '$version')"
if [ -e "$folder" ] && ! "$folder/bin/python" -c "$is_ours" 2>/dev/null; then
    echo "$folder is there but is no Python $version; move it away, and the same command makes a new one." >&2
    exit 1
fi
if [ -e "$folder/bin/python" ]; then
    echo "Bringing $folder up to date ..."
else
    echo "Making $folder with $python (Blender is a download of some 350 MB, once) ..."
fi
rm -f "$folder/ready"
if ! "$python" -m venv "$folder" >/dev/null 2>&1; then # some systems leave the module 'ensurepip' out
    "$python" -m venv --without-pip "$folder"
    "$python" -m pip --python "$folder/bin/python" install -q pip
fi
install() {
    "$folder/bin/python" -m pip install -q --disable-pip-version-check -c .ci/constraints.txt "$@"
}
# First the pip that is pinned: older ones do not know --build-constraint, which pins what packages are built with.
if ! { install pip hatchling && install --build-constraint .ci/constraints.txt -r "$wanted" -e ".[$extras]"; }; then
    echo "$folder is not complete: pip could not install what is listed in $wanted, .ci/constraints.txt and" \
        "pyproject.toml; what it said is above. The same command goes on from there." >&2
    exit 1
fi
echo "$stamp" >"$folder/ready"
