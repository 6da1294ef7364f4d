#!/bin/sh
# find_python.sh 3.11: prints the path of that Python, or says what is missing and how to get it (exit 1).
# Looks at $PYTHON, the names on PATH, and pyenv's versions.
set -u
version=$1

pyenv_root=${PYENV_ROOT:-$(pyenv root 2>/dev/null || echo "$HOME/.pyenv")}

check="import sys, venv
sys.exit('%d.%d' % sys.version_info[:2] != '$version' or print(sys.executable))"
for python in "${PYTHON:-}" "python$version" python3 python "$pyenv_root/versions/$version".*/bin/python3; do
    if [ -n "$python" ] && "$python" -c "$check" 2>/dev/null; then
        exit 0
    fi
done

cat >&2 <<END
Python $version is missing (with its module 'venv').
Looked at: the variable PYTHON (${PYTHON:-not set}), python$version, python3 and python on PATH, and pyenv's versions.
Get it with your system's packages (Debian, Ubuntu: python$version and python$version-venv), with 'pyenv install $version',
or from the Python website; if it has another name, say so: make PYTHON=/path/to/python$version ...
END
exit 1
