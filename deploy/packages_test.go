package deploy

import (
	"path/filepath"
	"strings"
	"testing"

	"recoat/internal/shop"
	"recoat/internal/sqldb"
)

// older makes a journal file as an earlier recoat left it.
func older(t *testing.T) string {
	t.Helper()
	now := shop.Schema()
	if len(now.Migrations) < 2 {
		t.Fatal("the journal has one schema only: nothing to upgrade")
	}
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := sqldb.Open(t.Context(), path, sqldb.Schema{ApplicationID: now.ApplicationID, Migrations: now.Migrations[:1]})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Write.Exec(`INSERT INTO room(id, title, limits, added) VALUES ('old-loft', 'The loft before', '', 1)`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// newer makes a journal file of a recoat that does not exist yet.
func newer(t *testing.T) string {
	t.Helper()
	now := shop.Schema()
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := sqldb.Open(t.Context(), path, sqldb.Schema{ApplicationID: now.ApplicationID, Migrations: append(now.Migrations[:len(now.Migrations):len(now.Migrations)], `CREATE TABLE later(x)`)})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestThePackageIsUpgradedDowngradedRemovedAndPurged(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a machine")
	}
	before, now := built(t, beforePackage), built(t, thisPackage)
	m := newMachine(t)
	before, now = m.bring(t, before), m.bring(t, now)

	m.must(t, "sudo dpkg -i "+before)
	if said := m.must(t, "recoat --version; id -nG recoat; stat -c '%U %a' /var/lib/recoat; sudo stat -c '%U:%G %a' /etc/recoat/recoat.toml"); said != "recoat 0.0.9\nrecoat i2c gpio\nrecoat 700\nroot:recoat 640\n" {
		t.Errorf("installed:\n%s", said)
	}
	m.must(t, "sudo sed -i 's/Back room/The loft/' /etc/recoat/recoat.toml; sudo systemctl enable --quiet --now recoat; sudo systemctl stop recoat")
	m.must(t, "sudo rm -rf /var/lib/recoat/simulated; sudo install -o recoat -g recoat -m 600 "+m.bring(t, older(t))+" /var/lib/recoat/journal.db")

	// Upgrade: the record is copied as it was, the settings stay, and what was
	// enabled runs again.
	said := m.must(t, "sudo dpkg -i "+now)
	if !strings.Contains(said, "goes from schema 1 to") || !strings.Contains(said, "/var/lib/recoat/before-upgrade/journal-v1-") {
		t.Errorf("the upgrade says\n%s", said)
	}
	if said := m.must(t, "recoat --version; sudo grep -c 'The loft' /etc/recoat/recoat.toml; systemctl is-active recoat; sudo ls /var/lib/recoat/before-upgrade | wc -l"); said != "recoat 0.1.0\n1\nactive\n1\n" {
		t.Errorf("upgraded:\n%s\n%s", said, m.log(t))
	}

	// Back to a version that does not know the record: refused by name.
	m.must(t, "sudo systemctl stop recoat; sudo install -o recoat -g recoat -m 600 "+m.bring(t, newer(t))+" /var/lib/recoat/journal.db")
	said, err := m.try(t, "sudo dpkg -i "+before)
	if err == nil || !strings.Contains(said, "/var/lib/recoat/journal.db has schema") || !strings.Contains(said, "written by a newer version") || !strings.Contains(said, "before-upgrade/journal-v1-") {
		t.Errorf("downgraded without a word, %v:\n%s", err, said)
	}
	if said := m.must(t, "systemctl is-active recoat || true"); said == "active\n" {
		t.Error("the older recoat runs on the newer record")
	}
	// The way back that it names works.
	m.must(t, "sudo -u recoat sh -c 'cp /var/lib/recoat/before-upgrade/journal-v1-*.db /var/lib/recoat/journal.db'; sudo rm -f /var/lib/recoat/journal.db-wal /var/lib/recoat/journal.db-shm; sudo dpkg --configure -a; sudo systemctl restart recoat; systemctl is-active recoat")

	// Removed, the record and the settings stay; purged, nothing does.
	m.must(t, "sudo dpkg --remove recoat </dev/null; ! command -v recoat; sudo test -s /var/lib/recoat/journal.db; sudo test -s /etc/recoat/recoat.toml; ! systemctl is-active recoat")
	m.must(t, "sudo dpkg -i "+now+"; recoat --version")
	m.must(t, "sudo dpkg --purge recoat </dev/null; ! command -v recoat; ! sudo test -e /var/lib/recoat; ! sudo test -e /etc/recoat; ! ls /usr/share/recoat 2>/dev/null; test -z \"$(dpkg -l recoat 2>/dev/null | grep '^[iruph]')\"")
}

// A recoat that has stopped doing its work is started again by the system, and
// one that was killed too.
func TestTheServiceIsStartedAgain(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a machine")
	}
	deb := built(t, thisPackage)
	m := newMachine(t)
	m.must(t, "sudo dpkg -i "+m.bring(t, deb))
	// The shipped minute is long for a test, and so is the wait before the kill.
	m.must(t, "sudo mkdir -p /run/systemd/system/recoat.service.d; printf '[Service]\\nWatchdogSec=4\\nTimeoutAbortSec=1\\nRestartSec=1\\n' | sudo tee /run/systemd/system/recoat.service.d/quick.conf; sudo systemctl daemon-reload; sudo systemctl start recoat")
	pid := func() string { return strings.TrimSpace(m.must(t, "systemctl show -P MainPID recoat")) }
	restarted := func(was, why string) {
		t.Helper()
		said := m.must(t, `for i in $(seq 120); do
			p=$(systemctl show -P MainPID recoat)
			[ "$p" != `+was+` ] && [ "$p" != 0 ] && systemctl is-active --quiet recoat && echo again && break
			sleep 0.25
		done`)
		if !strings.Contains(said, "again") {
			t.Fatalf("%s: not started again\n%s", why, m.log(t))
		}
	}
	first := pid()
	m.must(t, "sleep 9") // twice the watchdog's time: it is fed
	if now := pid(); now != first {
		t.Fatalf("restarted while it worked:\n%s", m.log(t))
	}
	m.must(t, "sudo kill -STOP "+first)
	restarted(first, "stopped")
	if said := m.must(t, "sudo journalctl --no-pager -u recoat | grep -c -i watchdog"); strings.TrimSpace(said) == "0" {
		t.Errorf("it was not the watchdog:\n%s", m.log(t))
	}
	second := pid()
	m.must(t, "sudo kill -KILL "+second)
	restarted(second, "killed")
}
