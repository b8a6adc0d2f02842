package box

import (
	"slices"
	"strings"
	"testing"
)

func TestUnit(t *testing.T) {
	f := Default
	f.Diary = "loan/diary.db"
	s, err := f.Service("/boot/firmware/glidepace/box.yaml")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(s.Unit, "\n")
	for _, want := range []string{
		"RequiresMountsFor=/boot/firmware/glidepace",
		"StartLimitAction=none",
		"Type=notify",
		"ExecStart=/usr/local/bin/glidepace box run /boot/firmware/glidepace/box.yaml",
		"ExecStopPost=/usr/local/bin/glidepace box off /boot/firmware/glidepace/box.yaml",
		"KillMode=mixed",
		"Restart=always",
		"WatchdogSec=20",
		"User=glidepace",
		"SupplementaryGroups=gpio audio",
		"NoNewPrivileges=yes",
		"PrivateNetwork=yes",
		"RestrictAddressFamilies=AF_UNIX",
		"ProtectSystem=strict",
		"ReadWritePaths=-/boot/firmware/glidepace/loan",
		"Environment=XDG_CACHE_HOME=/run/glidepace TMPDIR=/run/glidepace",
		"DevicePolicy=closed",
		"DeviceAllow=char-gpiochip rw",
		"DeviceAllow=char-alsa rw",
		"MemoryDenyWriteExecute=yes",
		"WantedBy=multi-user.target",
	} {
		if !slices.Contains(lines, want) {
			t.Errorf("the unit has not the line %q", want)
		}
	}
	if strings.Contains(s.Unit, "%") {
		t.Error("the unit has something that systemd would expand")
	}
	for _, keeps := range []string{"CacheDirectory", "StateDirectory", "LogsDirectory"} {
		if strings.Contains(s.Unit, keeps) {
			t.Errorf("%s keeps something on the card that no taking back wipes", keeps)
		}
	}
}

func TestServicePlaces(t *testing.T) {
	for place, want := range map[string]string{
		"/var/lib/glidepace/box.yaml": "",
		DefaultPlace:                  "",
		"box.yaml":                    "absolute path",
		"/a/../b/box.yaml":            "absolute path",
		"/media/my card/box.yaml":     "absolute path",
		"/media/100%/box.yaml":        "absolute path",
		`C:\box\box.yaml`:             "absolute path",
		"/srv/a\nUser=root/box.yaml":  "absolute path",
		"/home/pi/box.yaml":           "sees nothing of /home/",
		"/tmp/box.yaml":               "sees nothing of /tmp/",
		"/box.yaml":                   "a folder of its own",
	} {
		_, err := Default.Service(place)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", place, err, want)
		}
	}
	f := Default
	f.Diary = "my loan/diary.db"
	if _, err := f.Service(DefaultPlace); err == nil || !strings.Contains(err.Error(), "diary") {
		t.Errorf("a diary in a folder with a space: %v", err)
	}
}

func TestConfig(t *testing.T) {
	f := Default
	config := func() []string {
		s, err := f.Service(DefaultPlace)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Split(s.Config, "\n")
	}
	plain := config()
	for _, want := range []string{"gpio=17=op,dl", "gpio=22=op,dl", "gpio=27=ip,pu", "dtparam=audio=on"} {
		if !slices.Contains(plain, want) {
			t.Errorf("config has not %q", want)
		}
	}
	const clock = "dtoverlay=i2c-rtc,ds3231"
	if slices.Contains(plain, clock) {
		t.Error("a box without a battery clock gets an overlay for one")
	}
	f.BatteryClock, f.Sound = true, "off"
	if c := config(); !slices.Contains(c, clock) || slices.Contains(c, "dtparam=audio=on") {
		t.Errorf("with a battery clock and without sound: %q", c)
	}
}
