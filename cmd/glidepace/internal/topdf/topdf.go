// Package topdf makes a PDF of a page, with a browser that is installed: Chromium, or
// one that is made from it.
package topdf

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/safefile"
	"glidepace/sounds/program"
)

// browsers are the names of Chromium and of what is made from it, on every system.
var browsers = []string{
	"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "microsoft-edge",
	"/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
	"/Applications/Chromium.app/Contents/MacOS/Chromium",
	`C:\Program Files\Google\Chrome\Application\chrome.exe`,
	`C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe`,
}

// Browser returns the name of a browser that is installed. Without one it returns the
// error that says how to get one.
func Browser() (string, error) {
	if i := slices.IndexFunc(browsers, program.Installed); i >= 0 {
		return browsers[i], nil
	}
	return "", console.Usagef("a PDF needs the browser Chromium (Debian: apt install chromium) or Chrome. Or write a page, NAME.html, and print it in any browser")
}

// limits of the browser: a handout takes a second or two.
const (
	longest = time.Minute
	largest = 20 << 20 // bytes of the PDF
)

// Convert returns a page as a PDF. All that the browser writes is in a folder of its
// own, which is gone when Convert returns.
func Convert(ctx context.Context, browser string, page []byte) (pdf []byte, err error) {
	folder, remove, err := safefile.TempFolder()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, remove()) }()
	source, result := filepath.Join(folder, "page.html"), filepath.Join(folder, "page.pdf")
	if err := os.WriteFile(source, page, 0o600); err != nil {
		return nil, err
	}
	address := &url.URL{Scheme: "file", Path: filepath.ToSlash(source)}
	if runtime.GOOS == "windows" {
		address.Path = "/" + address.Path
	}
	args := []string{"--headless", "--disable-gpu", "--no-first-run", "--disable-extensions", "--disable-sync",
		"--disable-background-networking", "--disable-component-update", "--host-resolver-rules=MAP * ~NOTFOUND",
		"--user-data-dir=" + filepath.Join(folder, "profile"), "--no-pdf-header-footer", "--print-to-pdf=" + result}
	if os.Geteuid() == 0 {
		args = append(args, "--no-sandbox") // it has none for root
	}
	p := program.New(ctx, program.Limits{Time: longest, File: result, FileSize: largest}, browser, append(args, address.String())...)
	p.Env = append(os.Environ(), "HOME="+folder, "TMPDIR="+folder, "XDG_CONFIG_HOME="+folder, "XDG_CACHE_HOME="+folder)
	if err := p.Run(); err != nil {
		return nil, fmt.Errorf("%s: %w", browser, err)
	}
	pdf, err = safefile.Read(result, largest)
	if err != nil || !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		return nil, fmt.Errorf("%s made no PDF: %s", browser, p.Said())
	}
	return pdf, nil
}
