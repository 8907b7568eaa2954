package cli

import (
	"fmt"
	"os"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"storeyrod/models"
)

func migrateCommand(env func(string) string) *cobra.Command {
	var p, q place
	status := &cobra.Command{
		Use:     "status",
		Short:   "List the steps of the database and which are done, changing nothing",
		Example: "  storeyrod migrate status --data ./data",
		Args:    none,
		RunE:    func(cmd *cobra.Command, _ []string) error { return migrationStatus(cmd, q) },
	}
	placeFlags(status, &q, env)
	cmd := &cobra.Command{
		Use:   "migrate",
		Short: "Bring the database up to this version of the program",
		Long: `Applies what is missing, step by step, under a lock. "serve" does the same when it
starts; this verb is for doing it beforehand.`,
		Example: "  storeyrod migrate --data ./data\n  storeyrod migrate status --database postgres://storeyrod@db/storeyrod",
	}
	group(cmd, status)
	under := cmd.RunE
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return under(cmd, args)
		}
		return migrateUp(cmd, p)
	}
	placeFlags(cmd, &p, env)
	return cmd
}

func migrateUp(cmd *cobra.Command, p place) (err error) {
	data, err := p.dataFolder()
	if err != nil {
		return err
	}
	if p.database == "" {
		if err := os.MkdirAll(data, folderMode); err != nil {
			return fmt.Errorf("data folder: %w", err)
		}
	}
	config := p.databaseConfig()
	config.Logger = quiet(cmd.ErrOrStderr())
	store, err := models.Open(cmd.Context(), config)
	if err != nil {
		return err
	}
	if err := store.Close(); err != nil {
		return err
	}
	_, err = fmt.Fprintln(cmd.OutOrStdout(), "the database is up to date")
	return err
}

func migrationStatus(cmd *cobra.Command, p place) error {
	states, err := models.Migrations(cmd.Context(), p.databaseConfig())
	if err != nil {
		return err
	}
	t := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "NUMBER\tSTATE\tFILE")
	for _, s := range states {
		state := "missing"
		if s.Applied {
			state = "done"
		}
		fmt.Fprintf(t, "%d\t%s\t%s\n", s.Number, state, s.File)
	}
	return t.Flush()
}
