# Starts a Debian as a machine of its own: processes, mounts, network, names and
# control groups are its alone. $1 is the root, $2 a folder for what it changes.
set -e
lower=$1
work=$2
root=$work/root
mkdir -p "$work/upper" "$work/work" "$root"
mount --make-rprivate /
mount -t overlay -o "lowerdir=$lower,upperdir=$work/upper,workdir=$work/work" overlay "$root"
mount -t proc proc "$root/proc"
mount -t sysfs -o ro sysfs "$root/sys"
mount -t tmpfs tmpfs "$root/sys/fs/cgroup"
mkdir -p "$root/sys/fs/cgroup/unified" "$root/sys/fs/cgroup/systemd"
mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup/unified" 2>/dev/null || true
mount -t cgroup -o none,name=systemd cgroup "$root/sys/fs/cgroup/systemd" 2>/dev/null || true
mount -t tmpfs tmpfs "$root/run"
mount -t tmpfs tmpfs "$root/tmp"
mount -t tmpfs -o mode=755 tmpfs "$root/dev"
for device in null zero full random urandom tty; do
	: >"$root/dev/$device"
	mount --bind "/dev/$device" "$root/dev/$device"
done
ln -s /proc/self/fd "$root/dev/fd"
ln -s /proc/self/fd/0 "$root/dev/stdin"
ln -s /proc/self/fd/1 "$root/dev/stdout"
ln -s /proc/self/fd/2 "$root/dev/stderr"
mkdir -p "$root/dev/shm" "$root/dev/pts"
mount -t tmpfs tmpfs "$root/dev/shm"
mount -t devpts -o newinstance,ptmxmode=0666 devpts "$root/dev/pts"
ln -s pts/ptmx "$root/dev/ptmx"
ip link set lo up
echo pi >"$root/etc/hostname"
printf '127.0.0.1 localhost pi\n' >"$root/etc/hosts"
export container=test
exec chroot "$root" /lib/systemd/systemd --log-target=journal-or-kmsg --show-status=0
