package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"storeyrod/defects"
)

// importing is what the import verbs share.
type importing struct {
	to       targetFlags
	siteName string
	makeZone string
	env      func(string) string
}

func importCommand(env func(string) string) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "import",
		Short: "Take in photos, readings or footprints",
		Long: `Takes files into a data folder (--data) or a running server (--server, --token).
Each file, row or footprint stands alone: what is refused is told at the end with
its reason, the rest is taken, and the exit code is then 1.`,
		Example: "  storeyrod import photos ./site-photos --site \"Quarry Court\" --data ./data\n" +
			"  storeyrod import readings today.csv --site 0197… --server https://storeyrod.example",
	}
	return group(cmd, importPhotosCommand(env), importReadingsCommand(env), importBuildingsCommand(env), importFolderCommand(env))
}

func (i *importing) flags(cmd *cobra.Command) {
	addTargetFlags(cmd, &i.to, i.env)
	cmd.Flags().StringVar(&i.siteName, "site", "", "id or name of the site")
	cmd.Flags().StringVar(&i.makeZone, "create-site", "", "make the site in this time zone when a data folder has none of that name, as in Europe/London")
}

// run opens the target and the site, lets work do its part and tells the sum.
func (i *importing) run(cmd *cobra.Command, what string, work func(ctx context.Context, t target, site siteRef) (tally, error)) (err error) {
	ctx := cmd.Context()
	if i.siteName == "" {
		return usagef("--site says into which site")
	}
	i.to.make = i.makeZone != ""
	t, err := i.to.open(cmd, i.env)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, t.close()) }()
	if i.makeZone != "" {
		local, ok := t.(*localTarget)
		if !ok {
			return usagef("--create-site is for data folders; make the site on the server")
		}
		if err := local.makeSite(ctx, i.siteName, i.makeZone); err != nil {
			return err
		}
	}
	site, err := t.site(ctx, i.siteName)
	if err != nil {
		return err
	}
	sum, err := work(ctx, t, site)
	if werr := sum.write(cmd.OutOrStdout(), what); err == nil {
		err = werr
	}
	if err != nil {
		return err
	}
	return sum.verdict()
}

func importReadingsCommand(env func(string) string) *cobra.Command {
	i := importing{env: env}
	cmd := &cobra.Command{
		Use:   "readings FILE",
		Short: "Take in a table of readings (CSV)",
		Long: `Reads CSV with a header. Needed are quantity, value and unit; known are also id,
expanded_uncertainty, base_length_m, zone, stage, elevation, bay, lift, x_m, z_m,
opening, instrument, measured_at, by, gang, batch, courses, failure_plane, mode,
nominal, area_m2, dolly, set, note, repeat, confirmed. Each reading is judged as it comes in.
An implausible value is asked about: set "confirmed" to yes when it is right.
A row that the site has already is known and not stored again: one with the same
id, or without an id one that says the same in quantity, value, unit, place,
measured_at, instrument and by. So an interrupted import is simply run again. A
long table is sent in parts.`,
		Example: "  storeyrod import readings today.csv --site \"Quarry Court\"\n  storeyrod import readings - --site \"Quarry Court\" < today.csv",
		Args:    exactly(1, "one CSV file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return i.run(cmd, "readings", func(ctx context.Context, t target, site siteRef) (tally, error) {
				table, err := readWhole(cmd, args[0], maxReadingsFile)
				if err != nil {
					return tally{}, err
				}
				tick := newTicker(cmd.ErrOrStderr(), "readings", 0)
				defer tick.end()
				return inParts(ctx, t, site.id, table, tick.add)
			})
		},
	}
	i.flags(cmd)
	return cmd
}

func importBuildingsCommand(env func(string) string) *cobra.Command {
	i := importing{env: env}
	cmd := &cobra.Command{
		Use:   "buildings GEOJSON",
		Short: "Take in footprints (GeoJSON) and make elevations from their edges",
		Long: `Reads an RFC 7946 FeatureCollection of Polygons in WGS84. Properties: building (or
name), height_m, lift_height_m, bay_width_m, completed_on, defects_months. A building
whose name the site has already is left as it is.`,
		Example: "  storeyrod import buildings footprints.geojson --site \"Quarry Court\"",
		Args:    exactly(1, "one GeoJSON file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return i.run(cmd, "buildings", func(ctx context.Context, t target, site siteRef) (tally, error) {
				text, err := readWhole(cmd, args[0], maxTable)
				if err != nil {
					return tally{}, err
				}
				return t.buildings(ctx, site.id, text)
			})
		},
	}
	i.flags(cmd)
	return cmd
}

// readWhole reads a file, or standard input for "-", up to a bound.
func readWhole(cmd *cobra.Command, name string, most int64) ([]byte, error) {
	src := cmd.InOrStdin()
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, fileError(err))
		}
		defer f.Close()
		src = f
	}
	text, err := io.ReadAll(io.LimitReader(src, most+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, fileError(err))
	}
	if int64(len(text)) > most {
		return nil, defects.Refuse(defects.TooLarge, "file_too_large", fmt.Sprintf("%s: at most %d MiB are taken at once", name, most>>20))
	}
	return text, nil
}
