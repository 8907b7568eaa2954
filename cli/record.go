package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
)

func exportFolderCommand(env func(string) string) *cobra.Command {
	var p place
	var siteName, out string
	cmd := &cobra.Command{
		Use:   "folder --site S --out DIR",
		Short: "Write the whole record of a site into a folder that reads without this program",
		Long: `Writes the originals, the log with the exact bytes of its entries, every row of the
site, geometry and schedules, with a README in plain words and a list for
"sha256sum -c". A name ending in .zip gives one file instead. The same state gives
the same bytes. It is read from the data folder or database directly, also while a
server runs on it. "import folder" takes it into another instance.

Names of people are in it as the log holds them; passwords, tokens and sessions
never are. An original that is lost or damaged is told, and so is what the log
does not account for; the rest is written, and the exit code is then 1.`,
		Example: "  storeyrod export folder --site \"Quarry Court\" --out ./quarry-court\n" +
			"  storeyrod export folder --site \"Quarry Court\" --out quarry-court.zip --data ./data",
		Args: none,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if siteName == "" {
				return usagef("--site says of which site")
			}
			return writeRecord(cmd, p, out, func(ctx context.Context, reg *register.Register, w *evidence.BundleWriter, tell func()) (register.RecordSum, error) {
				site, err := reg.FindSite(ctx, operator(), siteName)
				if err != nil {
					return register.RecordSum{}, err
				}
				return reg.ExportSite(ctx, operator(), site.ID, w, tell)
			})
		},
	}
	placeFlags(cmd, &p, env)
	cmd.Flags().StringVar(&siteName, "site", "", "id or name of the site")
	cmd.Flags().StringVar(&out, "out", "", "folder to make, or a file ending in .zip")
	return cmd
}

func importFolderCommand(env func(string) string) *cobra.Command {
	var p place
	cmd := &cobra.Command{
		Use:   "folder DIR",
		Short: "Take in the whole record of a site, as \"export folder\" wrote it",
		Long: `Reads a folder or .zip file and takes the site in as it was: the same ids, hashes,
versions and bytes of the log. First all bytes are held to SHA256SUMS and the log
to the rows it led to. A file that was changed, is missing or too many, a log that
does not lead to the rows, or a site that is here already refuse the whole, with
each fault told by file, and nothing is taken.

Whoever had a role on the site keeps it. Who has no account here gets one that is
disabled and has no password, under the same login; an administrator can open it
("user link"). A login that is somebody else's here refuses the import.`,
		Example: "  storeyrod import folder ./quarry-court --data ./data",
		Args:    exactly(1, "one folder or .zip file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return readRecord(cmd, p, args[0], (*register.Register).ImportSite)
		},
	}
	placeFlags(cmd, &p, env)
	return cmd
}

func backupCommand(env func(string) string) *cobra.Command {
	var p place
	var out string
	cmd := &cobra.Command{
		Use:   "backup --out FILE-or-DIR",
		Short: "Write the whole instance into a folder or a .zip file, while it runs",
		Long: `Writes all sites, accounts and logs from one snapshot, and the originals, in the form
of "export folder". Everything that was acknowledged before it began is in it. A
server may go on working meanwhile. The folder or file appears whole or not at
all; view copies are left out, since they can be made again.

Keep it safe: it holds the hashes of passwords and tokens. Sessions and sign-in
links are not in it. An original that is lost or damaged is told, the rest is
written, and the exit code is then 1.`,
		Example: "  storeyrod backup --data /srv/storeyrod --out /backup/monday.zip\n" +
			"  storeyrod backup --database postgres://… --data /srv/storeyrod --out /backup/monday",
		Args: none,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return writeRecord(cmd, p, out, func(ctx context.Context, reg *register.Register, w *evidence.BundleWriter, tell func()) (register.RecordSum, error) {
				return reg.Backup(ctx, operator(), w, tell)
			})
		},
	}
	placeFlags(cmd, &p, env)
	cmd.Flags().StringVar(&out, "out", "", "folder to make, or a file ending in .zip")
	return cmd
}

func restoreCommand(env func(string) string) *cobra.Command {
	var p place
	cmd := &cobra.Command{
		Use:   "restore FILE-or-DIR",
		Short: "Bring a backup back, into an empty data folder or database",
		Long: `Reads what "backup" wrote, from either database into either. It goes only into an
instance that was never used. All bytes are held to SHA256SUMS first; changed or
missing ones refuse it. After it every original is read back and hashed, and every
log held to its rows: what does not agree there is told, with exit code 1, but
does not keep the backup out.`,
		Example: "  storeyrod restore /backup/monday.zip --data /srv/new",
		Args:    exactly(1, "one backup"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return readRecord(cmd, p, args[0], (*register.Register).Restore)
		},
	}
	placeFlags(cmd, &p, env)
	return cmd
}

type recordWrite func(context.Context, *register.Register, *evidence.BundleWriter, func()) (register.RecordSum, error)

// writeRecord writes a record from an instance that is there.
func writeRecord(cmd *cobra.Command, p place, out string, write recordWrite) (err error) {
	if out == "" {
		return usagef("--out says into which folder or .zip file")
	}
	if err := p.known(); err != nil {
		return err
	}
	inst, err := p.open(cmd.Context(), time.Now, quiet(cmd.ErrOrStderr()))
	if err != nil {
		return err
	}
	defer inst.closing(&err)
	w, err := evidence.CreateBundle(out)
	if err != nil {
		return bundleError(out, err)
	}
	defer w.Abandon()
	tick := newTicker(cmd.ErrOrStderr(), "originals", 0)
	sum, err := write(cmd.Context(), inst.reg, w, tick.one)
	tick.end()
	if err == nil {
		err = w.Close(cmd.Context())
	}
	if err != nil {
		return bundleError(out, err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s\n%-8s %6d photos\n%-8s %6d\n%-8s %6d\n", out,
		"written", sum.Photos, "entries", sum.Entries, "faults", len(sum.Faults))
	return tellFaults(cmd.ErrOrStderr(), sum.Faults)
}

type recordRead func(*register.Register, context.Context, register.Actor, *evidence.Bundle, func()) (register.RecordSum, error)

// readRecord takes a record into an instance, made when it is not there.
func readRecord(cmd *cobra.Command, p place, from string, read recordRead) (err error) {
	b, err := evidence.OpenBundle(from)
	if err != nil {
		return bundleError(from, err)
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	inst, err := p.open(cmd.Context(), time.Now, quiet(cmd.ErrOrStderr()))
	if err != nil {
		return err
	}
	defer inst.closing(&err)
	tick := newTicker(cmd.ErrOrStderr(), "files", len(b.Names()))
	sum, err := read(inst.reg, cmd.Context(), operator(), b, tick.one)
	tick.end()
	if err != nil {
		return bundleError(from, err)
	}
	if sum.Sites == 0 && len(sum.Faults) > 0 {
		fmt.Fprintf(cmd.OutOrStdout(), "%-8s %6d photos\n%-8s %6d\n", "taken", 0, "faults", len(sum.Faults))
		return tellFaults(cmd.ErrOrStderr(), sum.Faults)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%-8s %6d photos\n%-8s %6d\n%-8s %6d\n%-8s %6d\n%-8s %6d\n", "taken", sum.Photos,
		"sites", sum.Sites, "entries", sum.Entries, "missing", sum.Missing, "faults", len(sum.Faults))
	return tellFaults(cmd.ErrOrStderr(), sum.Faults)
}

func tellFaults(w io.Writer, faults []register.RecordFault) error {
	for _, f := range faults {
		fmt.Fprintln(w, "storeyrod: "+f.String())
	}
	if len(faults) > 0 {
		return &refusedError{fmt.Sprintf("%d faults", len(faults))}
	}
	return nil
}

// bundleError gives faults of a bundle's own a code.
func bundleError(name string, err error) error {
	kind, code := defects.Invalid, ""
	switch {
	case errors.Is(err, evidence.ErrTaken):
		kind, code = defects.Conflict, "name_taken"
	case errors.Is(err, evidence.ErrBundle):
		code = "no_record"
	case errors.Is(err, evidence.ErrNotFound):
		kind, code = defects.NotFound, "no_record"
	}
	var refused *defects.Error
	if code == "" || errors.As(err, &refused) {
		return fmt.Errorf("%s: %w", name, err)
	}
	return &defects.Error{Kind: kind, Code: code, Text: err.Error(), Err: err}
}
