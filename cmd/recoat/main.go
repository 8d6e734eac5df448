// Recoat watches a furniture finisher's drying room: see README.md.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"
)

// cli is the whole command line; each field is a command with its flags.
type cli struct {
	Up       upCommand       `cmd:"" help:"Everything in one process: broker, store, agent, hub and pages."`
	Agent    agentCommand    `cmd:"" help:"The half that reads the sensors, for a Pi in the room."`
	Hub      hubCommand      `cmd:"" help:"The half that keeps, reckons and tells, for a machine elsewhere."`
	Air      airCommand      `cmd:"" help:"The state of the air from its temperature and humidity."`
	Stages   stagesCommand   `cmd:"" help:"How long each stage of a coat takes under constant conditions."`
	Replay   replayCommand   `cmd:"" help:"When each stage of a coat was reached under recorded conditions."`
	Plan     planCommand     `cmd:"" help:"Go or wait, and when each coat of a chain would be ready."`
	Backtest backtestCommand `cmd:"" help:"The forecast of a recorded room against what then happened."`
	Product  productCommand  `cmd:"" help:"Products of the journal, from their labels."`
	Piece    pieceCommand    `cmd:"" help:"Pieces of the journal and their parts."`
	Coat     coatCommand     `cmd:"" help:"Coats: apply, list, undo."`
	Touch    touchCommand    `cmd:"" help:"Touch tests: what the finger found."`
	Tell     tellCommand     `cmd:"" help:"What to be told of, at night too."`
	Mix      mixCommand      `cmd:"" help:"Colour recipes, scaled exactly."`
	Shelf    shelfCommand    `cmd:"" help:"The cans: what is left, how long it is good."`
	Journal  journalCommand  `cmd:"" help:"The journal as a whole: back up, restore, history, undo, archive."`
	Backup   backupCommand   `cmd:"" help:"Backups of the data folder: take one, list them, restore one."`
	Store    storeCommand    `cmd:"" help:"The readings: prepare an InfluxDB server, copy history there or back."`
	Report   reportCommand   `cmd:"" help:"The record of a coat or of a piece: PDF, HTML, CSV or JSON."`
	Compare  compareCommand  `cmd:"" help:"Coats beside each other, and what goes with failures."`
	Verify   verifyCommand   `cmd:"" help:"Whether readings, journal and records are as they were sealed."`
	People   peopleCommand   `cmd:"" help:"Who may log in to the pages."`
	Node     nodeCommand     `cmd:"" help:"Which nodes elsewhere may speak to this hub."`
	Sensors  sensorsCommand  `cmd:"" help:"The sensors of this machine: what is wired, and what it says."`
	Doctor   doctorCommand   `cmd:"" help:"What works here, what does not, and what to do about it."`
	Upgrade  upgradeCommand  `cmd:"" help:"Keep a copy of each database that this version will bring to a newer schema."`

	Version kong.VersionFlag `help:"Which recoat this is."`
}

// version is stamped by the linker; a build by hand is of the tree it is in.
var version = "unreleased"

// Exit codes: 1 for work that failed, 2 for a command that was not understood.
const (
	exitFailed = 1
	exitUsage  = 2
)

// session is what every command writes to, stops by, and takes the time from.
type session struct {
	ctx    context.Context
	stdout io.Writer
	stderr io.Writer
	now    func() time.Time
	level  slog.LevelVar // of what is logged; the zero one is info
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	profileNothing()
	keepSmall()
	keepBelowCeiling("/")
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run is main without the process: it returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	return runAt(ctx, time.Now, args, stdout, stderr)
}

// runAt is run by a clock of its own.
func runAt(ctx context.Context, now func() time.Time, args []string, stdout, stderr io.Writer) int {
	var commands cli
	exit := -1 // set when the parser has answered by itself, as for --help
	parser, err := kong.New(&commands,
		kong.Name("recoat"),
		kong.Description("A logger for a furniture finisher's drying room."),
		kong.Vars{"version": "recoat " + version},
		kong.Writers(stdout, stderr),
		kong.Exit(func(code int) { exit = code }),
		kong.WithHyphenPrefixedParameters(true),
	)
	if err != nil {
		return fail(stderr, err, exitFailed)
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	parsed, err := parser.Parse(args)
	switch {
	case exit >= 0:
		return exit
	case err != nil:
		return fail(stderr, fmt.Errorf("%w (recoat %s--help lists what it takes)", err, command(args)), exitUsage)
	}
	// What was parsed is let go of before the work, which may last for months.
	work, ok := parsed.Selected().Target.Addr().Interface().(worker)
	if !ok {
		return fail(stderr, fmt.Errorf("recoat %s does nothing by itself", parsed.Command()), exitUsage)
	}
	if err := work.Run(&session{ctx: ctx, stdout: stdout, stderr: stderr, now: now}); err != nil {
		if errors.Is(err, errUsage) {
			return fail(stderr, err, exitUsage)
		}
		return fail(stderr, err, exitFailed)
	}
	return 0
}

// worker is a command.
type worker interface{ Run(s *session) error }

// errUsage marks errors that come of how the command was called.
var errUsage = errors.New("wrong usage")

// usage wraps an error so that the exit code says wrong usage.
type usage struct{ error }

func (u usage) Is(target error) bool { return target == errUsage }
func (u usage) Unwrap() error        { return u.error }

// command returns the command named in args, with a space behind it.
func command(args []string) string {
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		return args[0] + " "
	}
	return ""
}

// fail writes err as one line and returns the exit code.
func fail(stderr io.Writer, err error, code int) int {
	line := strings.Join(strings.Fields(err.Error()), " ")
	fmt.Fprintln(stderr, "recoat: "+line)
	return code
}
