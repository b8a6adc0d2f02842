package box

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
)

// DefaultPlace is where a box file is meant to lie on the box: in a folder of
// its own on the card's FAT partition, which any laptop can read, as current
// systems mount it (from memory).
const DefaultPlace = "/boot/firmware/glidepace/box.yaml"

// Program is where the program is meant to be on the box.
const Program = "/usr/local/bin/glidepace"

// Service is what a board needs to be a box from power-on: the texts of a few
// files of its system.
type Service struct {
	Unit    string // /etc/systemd/system/glidepace-box.service
	Users   string // /etc/sysusers.d/glidepace.conf
	Udev    string // /etc/udev/rules.d/60-glidepace.rules
	Journal string // /etc/systemd/journald.conf.d/glidepace.conf
	Config  string // to be added to the firmware's config.txt
	Cmdline string // to be added to the one line of the firmware's cmdline.txt
	Mount   string // options of the card's FAT partition in /etc/fstab
}

// hidden are folders that the unit does not let the program see.
var hidden = []string{"/home/", "/root/", "/run/user/", "/tmp/", "/var/tmp/"}

// plain are paths that stand for themselves in a unit.
var plain = regexp.MustCompile(`^(/[A-Za-z0-9_+@][A-Za-z0-9._+@-]*)+$`)

// Commands are the command lines, without the place of the box file at their
// end, that run a box and that switch off its pins.
type Commands struct{ Run, Off string }

// Service returns what runs the box whose file lies at that place on the box,
// an absolute path with slashes. The error says why it cannot lie there.
func (f *File) Service(place string, c Commands) (Service, error) {
	if !plain.MatchString(place) {
		return Service{}, fmt.Errorf("place of the box file %q: allowed is an absolute path of letters, digits and . _ + @ -, such as %s", place, DefaultPlace)
	}
	for _, h := range hidden {
		if strings.HasPrefix(place, h) {
			return Service{}, fmt.Errorf("place of the box file %q: the service sees nothing of %s; put the box's folder elsewhere, such as %s", place, h, DefaultPlace)
		}
	}
	folder := place[:strings.LastIndexByte(place, '/')]
	if folder == "" {
		return Service{}, errors.New("place of the box file: give it a folder of its own, such as " + DefaultPlace)
	}
	diary := folder
	if i := strings.LastIndexByte(f.Diary, '/'); i > 0 {
		diary += "/" + f.Diary[:i]
	}
	if !plain.MatchString(diary) {
		return Service{}, fmt.Errorf("diary %q: the unit must name its folder; allowed are letters, digits and . _ + @ -", f.Diary)
	}
	return Service{
		Unit:    fmt.Sprintf(unit, folder, c.Run+" "+place, c.Off+" "+place, diary),
		Users:   users,
		Udev:    udev,
		Journal: journal,
		Config:  f.config(),
		Cmdline: cmdline,
		Mount:   "uid=glidepace,gid=glidepace,umask=0077",
	}, nil
}

// unit takes the folder of the box file, the commands to run the box and to
// switch it off, and the folder of the diary.
//
// It takes from the program all that it does not need. It needs the pins and the
// sound card; sockets of this machine, for sound and for systemd; and to write
// the diary and the cache of its voice. That cache is in memory: its words tell
// what was prescribed, and would not be wiped with the card's folder. Some things
// are left out with reason: PrivateDevices would hide the pins, ProcSubset=pid the
// number of the boot, and PrivateUsers could close the devices to their groups.
//
// ExecStopPost is run after every end, also after a signal that cannot be caught,
// such as systemd's own for a program that hangs (systemd.service(5)). With
// KillMode=mixed, what a dead program has left running, such as a sound player,
// is killed at once. Otherwise systemd asks it to end, and waits for up to
// TimeoutStopSec, before it runs ExecStopPost (systemd.kill(5)).
const unit = `[Unit]
Description=glidepace buzzer box
RequiresMountsFor=%[1]s
# After most trouble the program goes on, and its light says so. If it ends all
# the same it is started again, up to 20 times; then it stays down, and the light
# dark. Nothing here ever reboots the board.
StartLimitIntervalSec=10min
StartLimitBurst=20
StartLimitAction=none

[Service]
Type=notify
# At power-on, first waits until the pins have been given to the group gpio.
ExecStartPre=-/usr/bin/udevadm settle --timeout=30
ExecStart=%[2]s
# A program that is killed cannot switch the motor off, and some kernels keep the
# pin as it was. So it is switched off after every end.
ExecStopPost=%[3]s
KillMode=mixed
Restart=always
RestartSec=3
WatchdogSec=20
# Time to say where it hung: until it has ended, the motor may be on.
TimeoutAbortSec=2
TimeoutStopSec=10
# A cue comes on time also when something else is busy.
Nice=-10
# Memory holds what the patient did.
LimitCORE=0

User=glidepace
Group=glidepace
SupplementaryGroups=gpio audio
UMask=0077
NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=

# No network: local sockets only, for sound and for systemd.
PrivateNetwork=yes
RestrictAddressFamilies=AF_UNIX

# Nothing can be written but the diary's folder and, in memory, the voice.
ProtectSystem=strict
ReadWritePaths=-%[4]s
RuntimeDirectory=glidepace
RuntimeDirectoryMode=0700
RuntimeDirectoryPreserve=restart
Environment=XDG_CACHE_HOME=/run/glidepace TMPDIR=/run/glidepace
ProtectHome=yes
PrivateTmp=yes

# No devices but the pins and the sound card.
DevicePolicy=closed
DeviceAllow=char-gpiochip rw
DeviceAllow=char-alsa rw

ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
KeyringMode=private
LockPersonality=yes
MemoryDenyWriteExecute=yes
PrivateIPC=yes
RemoveIPC=yes
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM

[Install]
WantedBy=multi-user.target
`

const users = `# The user that the box runs as, and the groups that open its devices.
g gpio -
g audio -
u glidepace - "glidepace buzzer box"
m glidepace gpio
m glidepace audio
`

const udev = `# The pins are for the group gpio. Systems made for the board have this rule.
SUBSYSTEM=="gpio", KERNEL=="gpiochip*", GROUP="gpio", MODE="0660"
`

const journal = `# What the box did is in the journal only until it is unplugged.
[Journal]
Storage=volatile
`

// cmdline tells the drivers of the pins not to keep an output as it was once
// nobody holds it. Older kernels do not have the parameter, and ignore it.
//
// Read in Debian's kernel 7.3.4 for arm64, not tried on a board: pinctrl_rp1, of
// the newest boards, keeps outputs unless told otherwise; pinctrl_bcm2835, of the
// others, does not. Other kernels may have other defaults.
const cmdline = "pinctrl_rp1.persist_gpio_outputs=n pinctrl_bcm2835.persist_gpio_outputs=n\n"

const firmware = `# Lines for config.txt, from memory: compare them with the documentation of
# your board, and look at the pins after a start (pinctrl, gpioinfo).
[all]
# From the firmware on, long before the program: buzzer and light off, the
# button pulled up. The pull-down at the transistor's gate is needed all the same.
gpio=%s=op,dl
gpio=%s=op,dl
gpio=%s=ip,pu
`

// config returns lines for the firmware.
func (f *File) config() string {
	number := func(pin string) string { return strings.TrimPrefix(pin, "GPIO") }
	text := fmt.Sprintf(firmware, number(f.Buzzer), number(f.Light), number(f.Button))
	if f.BatteryClock {
		text += `# The battery clock. ds3231 stands for the chip on your module.
dtparam=i2c_arm=on
dtoverlay=i2c-rtc,ds3231
`
	}
	if f.Sound != "off" {
		text += `# The board's own sound, where it has any.
dtparam=audio=on
`
	}
	return text + `# The box needs no radio.
dtoverlay=disable-wifi
dtoverlay=disable-bt
`
}
