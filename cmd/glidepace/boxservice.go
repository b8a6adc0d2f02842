package main

import (
	"fmt"
	"io"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/box"
)

var serviceParts = []string{"all", "unit", "users", "udev", "journal", "config", "cmdline"}

func boxServiceCommand() *cobra.Command {
	var part, place, program string
	cmd := &cobra.Command{
		Use:   "service [BOX.yaml]",
		Short: "Print how to make a board start as a box at power-on",
		Long: `Prints a systemd unit that runs the box from power-on: as a user of its own,
without a network, on a read-only system. systemd starts it again when it ends,
ends it when it hangs, and switches the motor off each time. It also prints the
user, the rule for the pins, the setting that keeps the journal in memory only,
the lines for the firmware and the words for the kernel, and how to install all
of them, step by step. --part prints one of them alone, for its file.

Without BOX.yaml it assumes a box file with nothing but a name.`,
		Example: `  glidepace box service /boot/firmware/glidepace/box.yaml
  glidepace box service box.yaml --place /boot/firmware/glidepace/box.yaml`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf("part", part, serviceParts...); err != nil {
				return err
			}
			b := &box.Default
			at := box.DefaultPlace
			if len(args) > 0 {
				var err error
				if b, err = loadBox(args[0]); err != nil {
					return err
				}
				if at, err = filepath.Abs(args[0]); err != nil {
					return err
				}
				at = filepath.ToSlash(at)
			}
			if place != "" {
				at = place
			}
			if !path.IsAbs(program) {
				return console.Usagef("--program %q is not an absolute path, such as %s", program, box.Program)
			}
			s, err := b.Service(at, box.Commands{Run: program + " box run", Off: program + " box off"})
			if err != nil {
				return console.Usagef("%w (--place says where it will be on the box)", err)
			}
			return writeService(cmd.OutOrStdout(), s, at, program, part)
		},
	}
	cmd.Flags().StringVar(&part, "part", "all", strings.Join(serviceParts, ", "))
	cmd.Flags().StringVar(&place, "place", "", "where the box file will be on the box: an absolute `path` (default: where it is now; without a box file "+box.DefaultPlace+")")
	cmd.Flags().StringVar(&program, "program", box.Program, "where the program will be on the box: an absolute `path`")
	return cmd
}

func writeService(w io.Writer, s box.Service, place, program, part string) error {
	files := []struct{ part, name, text string }{
		{"unit", "/etc/systemd/system/glidepace-box.service", s.Unit},
		{"users", "/etc/sysusers.d/glidepace.conf", s.Users},
		{"udev", "/etc/udev/rules.d/60-glidepace.rules", s.Udev},
		{"journal", "/etc/systemd/journald.conf.d/glidepace.conf", s.Journal},
		{"config", "to be added to /boot/firmware/config.txt", s.Config},
		{"cmdline", "to be added to the one line of /boot/firmware/cmdline.txt", s.Cmdline},
	}
	var all strings.Builder
	all.WriteString(serviceSteps(s, place, program))
	for _, f := range files {
		if f.part == part {
			_, err := io.WriteString(w, f.text)
			return err
		}
		fmt.Fprintf(&all, "\n# ======== %s\n%s", f.name, f.text)
	}
	_, err := io.WriteString(w, all.String())
	return err
}

// serviceSteps says how to install a service, in comments.
func serviceSteps(s box.Service, place, program string) string {
	folder := place[:strings.LastIndexByte(place, '/')]
	own := "chown -R glidepace: " + folder
	if strings.HasPrefix(place, "/boot/") {
		own = fmt.Sprintf(`FAT keeps no owners, so add to the options of the card's FAT partition in
#    /etc/fstab: %s
#    (from memory). The unit lets the program write to its folder alone.`, s.Mount)
	}
	return fmt.Sprintf(`# How to make a board a box, in order, as root on the board. The texts for the
# files follow; "--part NAME > FILE" writes each. The Debian package glidepace-box
# does steps 1, 2, 3 and 8, and writes the file of step 6; its last two commands remain.
#
# 1. The program, one file:
#      install -m 755 glidepace %[1]s
# 2. Its user:
#      %[1]s box service %[2]s --part users > /etc/sysusers.d/glidepace.conf
#      systemd-sysusers
#    Without systemd-sysusers: groupadd -f -r gpio
#      useradd -r -M -s /usr/sbin/nologin -G gpio,audio glidepace
# 3. The pins:
#      %[1]s box service %[2]s --part udev > /etc/udev/rules.d/60-glidepace.rules
# 4. The firmware, once; read the lines before:
#      %[1]s box service %[2]s --part config >> /boot/firmware/config.txt
# 5. The kernel, once, so that it does not keep a pin, and with it the motor, on
#    when the program is killed. The names are those in the kernel's modules; this
#    was not tried on a board. The words go at the end of the file's one line:
#      sed -i "1s/$/ $(%[1]s box service --part cmdline)/" /boot/firmware/cmdline.txt
#    After the start below this must say N, wherever there is such a file:
#      grep . /sys/module/pinctrl_*/parameters/persist_gpio_outputs
# 6. The journal, in memory only: what a patient did stays in nothing but the
#    diary. A system with rsyslog keeps a second log: remove rsyslog.
#      mkdir -p /etc/systemd/journald.conf.d
#      %[1]s box service %[2]s --part journal > /etc/systemd/journald.conf.d/glidepace.conf
#      systemctl restart systemd-journald
#      rm -rf /var/log/journal
# 7. The box's folder belongs to the program:
#      %[3]s
# 8. The service:
#      %[1]s box service %[2]s --part unit > /etc/systemd/system/glidepace-box.service
#      systemctl enable glidepace-box.service
# 9. Restart the board. What the box does: journalctl -u glidepace-box
#    Its self-test:
#      systemctl stop glidepace-box
#      sudo -u glidepace %[1]s box wiring %[2]s
#      systemctl start glidepace-box
#    Should a buzz not stop while the service stands still:
#      %[1]s box off %[2]s
`, program, place, own)
}
