#!/bin/sh
# Makes a small Debian in FOLDER for the tests of the packages, once; the
# packages it needs come from debootstrap's own mirror, or the one that MIRROR
# names.
#
#   test-root.sh FOLDER
set -eu

folder=$1
[ ! -e "$folder/ready" ] || exit 0
command -v debootstrap >/dev/null || { echo "debootstrap is not installed: the packages are not tried"; exit 0; }
[ "$(id -u)" = 0 ] || { echo "not root: the packages are not tried"; exit 0; }
rm -rf "$folder"
debootstrap --variant=minbase \
	--include=systemd,dbus,sudo,udev,ca-certificates,curl,openssl,iproute2,procps,mosquitto,mosquitto-clients \
	bookworm "$folder" ${MIRROR:+"$MIRROR"} >/dev/null
chroot "$folder" useradd --create-home --groups sudo owner
echo 'owner ALL=(ALL) NOPASSWD: ALL' >"$folder/etc/sudoers.d/owner"
mkdir -p "$folder/boot/firmware"
: >"$folder/boot/firmware/config.txt"
chroot "$folder" systemctl disable --quiet mosquitto.service
: >"$folder/ready"
