# Makes the image of a disk with a small Debian system for arm64, as debootstrap
# would: systemd, udev and what a board needs to mend its card. It takes root.
set -e
if ! arch-test arm64 >/dev/null; then
	# Programs for arm64 are run by an emulator from now on, until the host boots.
	binfmt=/proc/sys/fs/binfmt_misc
	[ -e $binfmt/register ] || mount -t binfmt_misc binfmt_misc $binfmt
	magic='\x7f\x45\x4c\x46\x02\x01\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00\x02\x00\xb7\x00'
	mask='\xff\xff\xff\xff\xff\xff\xff\x00\xff\xff\xff\xff\xff\xff\xff\xff\xfe\xff\xff\xff'
	printf %s ":qemu-aarch64:M::$magic:$mask:/usr/bin/qemu-aarch64-static:F" >$binfmt/register
fi
mmdebstrap --mode=root --architectures=arm64 --variant=essential \
	--include=systemd-sysv,udev,sudo,dosfstools \
	--dpkgopt='path-exclude=/usr/share/doc/*' --dpkgopt='path-exclude=/usr/share/man/*' \
	--dpkgopt='path-exclude=/usr/share/locale/*' --dpkgopt=force-unsafe-io \
	--aptopt='Acquire::Languages "none"' --aptopt='Acquire::Retries "3"' \
	--keyring=/usr/share/keyrings/debian-archive-keyring.gpg \
	trixie root http://deb.debian.org/debian
mkfs.ext4 -q -d root system.ext4 700M
rm -r root
