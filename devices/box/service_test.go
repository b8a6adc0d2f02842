package box

import (
	"slices"
	"strings"
	"testing"
)

var commands = Commands{Run: Program + " run", Off: Program + " off"}

func serviceOf(t *testing.T, f File) Service {
	t.Helper()
	s, err := f.Service(DefaultPlace, commands)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestUnit(t *testing.T) {
	f := Default
	f.Diary = "loan/diary.db"
	unit := serviceOf(t, f).Unit
	for want := range strings.Lines(`RequiresMountsFor=/boot/firmware/glidepace
StartLimitAction=none
Type=notify
ExecStart=/usr/local/bin/glidepace run /boot/firmware/glidepace/box.yaml
ExecStopPost=/usr/local/bin/glidepace off /boot/firmware/glidepace/box.yaml
KillMode=mixed
Restart=always
WatchdogSec=20
User=glidepace
SupplementaryGroups=gpio audio
NoNewPrivileges=yes
PrivateNetwork=yes
RestrictAddressFamilies=AF_UNIX
ProtectSystem=strict
ReadWritePaths=-/boot/firmware/glidepace/loan
Environment=XDG_CACHE_HOME=/run/glidepace TMPDIR=/run/glidepace
DevicePolicy=closed
DeviceAllow=char-gpiochip rw
DeviceAllow=char-alsa rw
MemoryDenyWriteExecute=yes
WantedBy=multi-user.target
`) {
		if !strings.Contains(unit, "\n"+want) {
			t.Errorf("the unit does not have the line %q", want)
		}
	}
	// systemd would expand the first; the others keep something on the card that
	// is not wiped with a loan.
	for _, without := range []string{"%", "CacheDirectory", "StateDirectory", "LogsDirectory"} {
		if strings.Contains(unit, without) {
			t.Errorf("the unit has %s", without)
		}
	}
}

func TestServicePlaces(t *testing.T) {
	spaced := Default
	spaced.Diary = "my loan/diary.db"
	for _, c := range []struct {
		box         File
		place, want string
	}{
		{Default, "/var/lib/glidepace/box.yaml", ""},
		{Default, DefaultPlace, ""},
		{Default, "box.yaml", "absolute path"},
		{Default, "/a/../b/box.yaml", "absolute path"},
		{Default, "/media/my card/box.yaml", "absolute path"},
		{Default, "/media/100%/box.yaml", "absolute path"},
		{Default, `C:\box\box.yaml`, "absolute path"},
		{Default, "/srv/a\nUser=root/box.yaml", "absolute path"},
		{Default, "/home/pi/box.yaml", "sees nothing of /home/"},
		{Default, "/tmp/box.yaml", "sees nothing of /tmp/"},
		{Default, "/box.yaml", "a folder of its own"},
		{spaced, DefaultPlace, "diary"},
	} {
		_, err := c.box.Service(c.place, commands)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.place, err, c.want)
		}
	}
}

func TestConfig(t *testing.T) {
	f := Default
	f.BatteryClock, f.Sound = true, "off"
	const sound, clock = "dtparam=audio=on", "dtoverlay=i2c-rtc,ds3231"
	for _, c := range []struct {
		box      File
		has, not string
	}{{Default, sound, clock}, {f, clock, sound}} {
		lines := strings.Split(serviceOf(t, c.box).Config, "\n")
		for _, want := range []string{"gpio=17=op,dl", "gpio=22=op,dl", "gpio=27=ip,pu", c.has} {
			if !slices.Contains(lines, want) {
				t.Errorf("config has no line %q", want)
			}
		}
		if slices.Contains(lines, c.not) {
			t.Errorf("config has the line %q", c.not)
		}
	}
}
