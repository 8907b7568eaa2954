package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// demoSite is the name of the invented site.
const demoSite = "Larkrow Court (invented)"

// demoLinks is how long the printed sign-in links are good for.
const demoLinks = 72 * time.Hour

type demoOptions struct {
	addr    string
	data    string
	noServe bool
}

func demoCommand(env func(string) string) *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "A throw-away site with invented data to look around in",
		Long: `Builds an invented site of three terraces, with drawn photos, readings, and snags in
every state, on the built-in database; then serves it and prints sign-in links.
Everything in it is invented: people, walls, photos and figures.

Without --data a new folder for temporary files is used and named. With --data a
folder that already holds the demo is served again as it is.`,
		Example: "  storeyrod demo\n  storeyrod demo --data ./demo --no-serve",
		Args:    none,
		RunE:    func(cmd *cobra.Command, _ []string) error { return runDemo(cmd, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.addr, "addr", fallback(env("STOREYROD_ADDR"), defaultAddr), "address to listen on; port 0 takes a free one")
	f.StringVar(&o.data, "data", "", "folder to build in; empty for a new temporary one")
	f.BoolVar(&o.noServe, "no-serve", false, "build the data and stop")
	return cmd
}

func runDemo(cmd *cobra.Command, o demoOptions) (err error) {
	ctx, out, errOut := cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr()
	s := service{addr: o.addr, logger: quiet(errOut)}
	if !o.noServe {
		if err := s.listen(ctx); err != nil { // before the work, so that a taken port is told at once
			return err
		}
		defer s.quit()
	}
	if o.data == "" {
		if o.data, err = os.MkdirTemp("", "storeyrod-demo-"); err != nil {
			return fmt.Errorf("data folder: %w", err)
		}
	}
	clock := &movableClock{}
	fresh := isEmpty(o.data)
	if s.inst, err = (place{data: o.data}).open(ctx, clock.Now, s.logger); err != nil {
		return err
	}
	defer s.inst.closing(&err)
	if err := fillDemo(ctx, s.inst.reg, clock, fresh, errOut); err != nil {
		return err
	}
	fmt.Fprintf(errOut, "data folder: %s (delete it when you are done)\n", o.data)
	if o.noServe {
		_, err = fmt.Fprintf(out, "site: %s\n", demoSite)
		return err
	}
	return s.run(ctx, out, s.greetDemo)
}

func isEmpty(folder string) bool {
	_, err := os.Stat(filepath.Join(folder, "storeyrod.db"))
	return errors.Is(err, fs.ErrNotExist)
}

// fillDemo builds the demo in a new folder; a folder that holds it already is
// left as it is, and one that holds anything else is refused.
func fillDemo(ctx context.Context, reg *register.Register, clock *movableClock, fresh bool, progress io.Writer) error {
	if _, err := reg.FindSite(ctx, register.System(device()), demoSite); err == nil {
		return nil
	} else if !errors.Is(err, defects.NotFound) {
		return err
	}
	if !fresh {
		return defects.RefuseField(defects.Conflict, "data", "data_in_use",
			"this folder holds an instance that is not the demo; give an empty folder")
	}
	return buildDemo(ctx, reg, clock, progress)
}

// greetDemo prints the site and how to sign in.
func (s *service) greetDemo(ctx context.Context, out io.Writer, base string) error {
	fmt.Fprintf(out, "site: %s\n\nEverything in it is invented. Sign in as one of its people; each link works once, for three days:\n", demoSite)
	for _, p := range demoPeople() {
		secret, err := s.inst.reg.CreateLink(ctx, register.System(device()), p.login, demoLinks)
		if err != nil {
			return err
		}
		fmt.Fprintf(out, "  %-40s %s/link?secret=%s\n", p.name+", "+p.words, base, url.QueryEscape(secret))
	}
	_, err := fmt.Fprintln(out, "\nStop with Ctrl-C.")
	return err
}
