package cli

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

func schedulesCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "schedules [NAME]",
		Short: "The built-in tolerance schedules, or one in full with its sources",
		Long: `Without a name: every built-in schedule with its source and how its figures are
known. With a name: all its limits. With --json a single schedule is written in
the form that "judge --schedule FILE" and a site's own schedules take.

Published tables disagree: the project chooses one, and the record says which.
Figures marked UNVERIFIED are recalled, not read in the issuer's own text.`,
		Example: "  storeyrod schedules\n  storeyrod schedules din-18202-t2 --json > ours.json",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("give one name; see %s --help", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return listSchedules(cmd.OutOrStdout(), asJSON)
			}
			s, ok := reference.Schedule(args[0])
			if !ok {
				return unknownSchedule(args[0])
			}
			return showSchedule(cmd.OutOrStdout(), s, asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return cmd
}

func unknownSchedule(name string) error {
	return defects.RefuseField(defects.NotFound, "schedule", "unknown_schedule",
		fmt.Sprintf("there is no built-in schedule and no file %q; storeyrod schedules lists the built-in ones", name))
}

// scheduleLine is one schedule of the list.
type scheduleLine struct {
	Name       string        `json:"name"`
	Version    int           `json:"version"`
	Title      string        `json:"title"`
	Edition    string        `json:"edition"`
	Basis      defects.Basis `json:"basis"`
	Unverified bool          `json:"unverified"` // some figure of it rests on memory
	Limits     int           `json:"limits"`
	Notes      string        `json:"notes"`
}

func scheduleLines() []scheduleLine {
	var lines []scheduleLine
	for _, s := range reference.Schedules() {
		lines = append(lines, scheduleLine{
			Name: s.Name, Version: s.Version, Title: s.Title, Edition: s.Edition, Basis: s.Basis,
			Unverified: unverified(s), Limits: len(s.Limits), Notes: s.Notes,
		})
	}
	return lines
}

// unverified reports that a figure of the schedule rests on memory.
func unverified(s defects.Schedule) bool {
	for _, l := range s.Limits {
		if cmp.Or(l.Basis, s.Basis) == defects.Memory {
			return true
		}
	}
	return s.Basis == defects.Memory
}

func listSchedules(w io.Writer, asJSON bool) error {
	if asJSON {
		return writeJSON(w, scheduleLines())
	}
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "NAME\tLIMITS\tBASIS\tSOURCE")
	for _, s := range scheduleLines() {
		fmt.Fprintf(t, "%s@%d\t%d\t%s\t%s\n", s.Name, s.Version, s.Limits, basisWords(s.Basis, s.Unverified), source(s.Title, s.Edition))
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

func basisWords(b defects.Basis, unverified bool) string {
	switch {
	case b == defects.Memory:
		return "memory, UNVERIFIED"
	case unverified:
		return string(b) + ", partly memory, UNVERIFIED"
	case b == defects.Secondary:
		return "secondary (read in a text that quotes it)"
	}
	return string(b)
}

func source(title, edition string) string {
	if edition == "" || strings.Contains(title, edition) {
		return title
	}
	return title + ", " + edition
}

func showSchedule(w io.Writer, s defects.Schedule, asJSON bool) error {
	if asJSON {
		text, err := reference.EncodeSchedule(s)
		if err != nil {
			return err
		}
		_, err = w.Write(text)
		return err
	}
	fmt.Fprintf(w, "%s\nsource: %s\nbasis: %s\n", defects.ScheduleRef(s), source(s.Title, s.Edition), basisWords(s.Basis, unverified(s)))
	fmt.Fprintf(w, "rank: %s\n", defects.RankOf(s).Words())
	if s.Agreed.By != "" {
		fmt.Fprintf(w, "agreed: by %s on %s\n", s.Agreed.By, s.Agreed.On)
	}
	if s.Notes != "" {
		fmt.Fprintf(w, "notes: %s\n", s.Notes)
	}
	for _, l := range s.Limits {
		q, _ := defects.QuantityByName(l.Quantity)
		if _, err := fmt.Fprintf(w, "\n%s: %s\n  %s\n", l.Quantity, l.Words(q.Unit), limitSource(s, l)); err != nil {
			return fmt.Errorf("write: %w", err)
		}
		if l.Note != "" {
			fmt.Fprintf(w, "  note: %s\n", l.Note)
		}
	}
	return nil
}

// limitSource says where a limit comes from and how that is known.
func limitSource(s defects.Schedule, l defects.Limit) string {
	parts := []string{source(cmp.Or(l.Title, s.Title), cmp.Or(l.Edition, s.Edition))}
	if l.Clause != "" {
		parts = append(parts, l.Clause)
	}
	if l.Line != "" {
		parts = append(parts, l.Line)
	}
	basis := cmp.Or(l.Basis, s.Basis)
	return "source: " + strings.Join(parts, ", ") + "; basis: " + basisWords(basis, basis == defects.Memory)
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

// loadLimits finds a schedule by its built-in name, else in a file.
func loadLimits(ref string) (*defects.Limits, error) {
	s, ok := reference.Schedule(ref)
	if !ok {
		f, err := os.Open(ref)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, unknownSchedule(ref)
		}
		if err != nil {
			return nil, fmt.Errorf("schedule %s: %w", ref, fileError(err))
		}
		defer f.Close()
		if s, err = reference.ParseSchedule(f); err != nil {
			return nil, fmt.Errorf("schedule %s: %w", ref, err)
		}
	}
	l, err := defects.Compile(s)
	if err != nil {
		return nil, fmt.Errorf("schedule %s: %w", ref, err)
	}
	return l, nil
}
