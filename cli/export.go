package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"
)

func exportCommand(env func(string) string) *cobra.Command {
	cmd := &cobra.Command{
		Use:     "export",
		Short:   "Write lists out",
		Long:    "Writes lists from a data folder (--data) or a running server (--server, --token).",
		Example: "  storeyrod export snags --site \"Quarry Court\" --format csv --out snags.csv",
	}
	return group(cmd, exportSnagsCommand(env), exportFolderCommand(env))
}

func exportSnagsCommand(env func(string) string) *cobra.Command {
	var from targetFlags
	var q listQuery
	var siteName, out string
	cmd := &cobra.Command{
		Use:   "snags",
		Short: "Write the snag lists of a site, or of one elevation, in walking order",
		Long: `Writes every snag, closed ones too, elevation by elevation in the order a person
walks them; --open leaves those that owe nothing out. The numbers are those of
the pages. A file is written beside its place first and appears whole or not at all.`,
		Example: "  storeyrod export snags --site \"Quarry Court\" --format csv --out snags.csv\n" +
			"  storeyrod export snags --site \"Quarry Court\" --elevation \"Block A / South\" --format json --out -",
		Args: none,
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			if err := checkFormat(q.format); err != nil {
				return err
			}
			if siteName == "" {
				return usagef("--site says of which site")
			}
			t, err := from.open(cmd, env)
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, t.close()) }()
			site, err := t.site(cmd.Context(), siteName)
			if err != nil {
				return err
			}
			return writeOut(cmd.OutOrStdout(), out, func(w io.Writer) error { return t.snags(cmd.Context(), site, q, w) })
		},
	}
	addTargetFlags(cmd, &from, env)
	f := cmd.Flags()
	f.StringVar(&siteName, "site", "", "id or name of the site")
	f.StringVar(&q.elevation, "elevation", "", `id, name, or "Building / Name" of one elevation`)
	f.StringVar(&q.format, "format", "csv", "csv, json or geojson")
	f.StringVar(&out, "out", "-", "file to write; - is standard output")
	f.BoolVar(&q.open, "open", false, "only snags that still owe work or a decision")
	return cmd
}

func checkFormat(format string) error {
	switch {
	case slices.Contains([]string{"csv", "json", "geojson"}, format):
		return nil
	case slices.Contains([]string{"xlsx", "bcf", "pdf"}, format):
		return usagef("--format %s comes later; csv, json and geojson are there [not_yet]", format)
	}
	return usagef("--format is csv, json or geojson, not %q", clip(format))
}

// writeOut writes to a file by way of a temporary one beside it, or to out for
// "-".
func writeOut(out io.Writer, name string, write func(io.Writer) error) (err error) {
	if name == "-" {
		return write(out)
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".storeyrod-*")
	if err != nil {
		return fmt.Errorf("%s: %w", name, fileError(err))
	}
	defer func() {
		if err != nil {
			_ = f.Close()
			_ = os.Remove(f.Name())
		}
	}()
	if err := write(f); err != nil {
		return err
	}
	const fileMode = 0o644
	if err := errors.Join(f.Chmod(fileMode), f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("%s: %w", name, fileError(err))
	}
	if err := os.Rename(f.Name(), name); err != nil {
		return fmt.Errorf("%s: %w", name, fileError(err))
	}
	return nil
}
