package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	_ "time/tzdata" // sites carry time zones; a bare machine may have none

	"github.com/spf13/cobra"

	"storeyrod/defects"
)

// Exit codes of every verb.
const (
	exitDone    = 0
	exitRefused = 1
	exitUsage   = 2
)

// usageError is a fault of the command line itself.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }

func usagef(format string, args ...any) error {
	return &usageError{fmt.Sprintf(format, args...)}
}

// refusedError ends a run whose faults are already told, one by one.
type refusedError struct{ summary string }

func (e *refusedError) Error() string { return e.summary }

// Main runs the program and answers its exit code. The environment is asked
// through env, so that a caller can give one of its own.
func Main(args []string, stdin io.Reader, stdout, stderr io.Writer, env func(string) string) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	// A second interrupt ends the program at once, however busy it is.
	context.AfterFunc(ctx, stop)
	root := newRoot(env)
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	fmt.Fprintln(stderr, "storeyrod: "+describe(err))
	var usage *usageError
	if errors.As(err, &usage) {
		return exitUsage
	}
	return exitRefused
}

// describe is an error as one line, with its stable code when it has one.
func describe(err error) string {
	text := strings.Join(strings.Fields(err.Error()), " ")
	var refused *defects.Error
	if errors.As(err, &refused) {
		text += " [" + refused.CodeOrKind() + "]"
	}
	if errors.Is(err, context.Canceled) {
		return "interrupted"
	}
	return text
}

func newRoot(env func(string) string) *cobra.Command {
	root := &cobra.Command{
		Use:   "storeyrod",
		Short: "Photos, measurements and snags of external wall insulation",
		Long: `Storeyrod keeps the quality record of external wall insulation with a brick-slip
or render finish: it takes in photos and measurements, judges each against the
tolerance the project agreed, and carries what is wrong as a snag list per
elevation through making good to close-out.

Exit codes: 0 done, 1 something was refused or found wrong, 2 wrong usage.`,
		Example:           "  storeyrod demo\n  storeyrod judge --schedule din-18202-t3-line7 --in readings.csv",
		SilenceErrors:     true,
		SilenceUsage:      true,
		CompletionOptions: cobra.CompletionOptions{DisableDefaultCmd: true},
		Args:              cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usagef("there is no verb %q; storeyrod --help lists them", args[0])
			}
			cmd.SetOut(cmd.ErrOrStderr())
			return errors.Join(cmd.Help(), usagef("name a verb"))
		},
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usagef("%s; see %s --help", err, cmd.CommandPath())
	})
	root.AddCommand(
		judgeCommand(), schedulesCommand(), pulloutCommand(), sampleCommand(), exifCommand(), locateCommand(), deriveCommand(),
		versionCommand(), heicCommand(),
		demoCommand(env), serveCommand(env), importCommand(env), exportCommand(env), migrateCommand(env), userCommand(env),
		backupCommand(env), restoreCommand(env),
	)
	return root
}

// group makes a verb that only holds other ones.
func group(cmd *cobra.Command, under ...*cobra.Command) *cobra.Command {
	cmd.Args = cobra.ArbitraryArgs
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return usagef("%s has no %q; see %s --help", cmd.CommandPath(), args[0], cmd.CommandPath())
		}
		return usagef("say what to do: see %s --help", cmd.CommandPath())
	}
	cmd.AddCommand(under...)
	return cmd
}

// exactly asks for n arguments, named for the message.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n {
			return usagef("give %s, not %d arguments; see %s --help", what, len(args), cmd.CommandPath())
		}
		return nil
	}
}

func atLeastOne(what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usagef("give at least one %s; see %s --help", what, cmd.CommandPath())
		}
		return nil
	}
}

func none(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usagef("%s takes no argument %q", cmd.CommandPath(), args[0])
	}
	return nil
}
