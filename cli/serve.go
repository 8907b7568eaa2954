package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"slices"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"storeyrod/defects/register"
	"storeyrod/server"
)

const (
	defaultAddr = "127.0.0.1:8080"
	// finishWithin is how long requests under way may take after the server was
	// told to stop.
	finishWithin = 20 * time.Second
	sweepEvery   = time.Hour
	// orphanAge is how long an original may wait for its row beside a running
	// server; intakes take seconds.
	orphanAge = time.Hour
	// uploadsEvery is how often uploads that were given up make room.
	uploadsEvery = 10 * time.Minute
)

// service is one run of the server.
type service struct {
	inst    *instance
	addr    string
	secure  bool
	proxies []string
	tiles   *server.Tiles
	logger  *slog.Logger

	listener net.Listener
}

func serveCommand(env func(string) string) *cobra.Command {
	var p place
	var s service
	var format, tileURL, attribution string
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Run the server",
		Long: `Runs the server over a data folder, which is made when it is not there. The first
line tells the address. While nobody has an account, a link for making the first
one is printed, which is good for three days and until the next start.

It stops on SIGINT or SIGTERM after finishing what is under way. It speaks plain
HTTP: on anything but this machine put a proxy with TLS in front of it and give
--secure-cookies.`,
		Example: "  storeyrod serve --addr 127.0.0.1:8080 --data ./data\n" +
			"  STOREYROD_DATABASE=postgres://storeyrod@db/storeyrod storeyrod serve --secure-cookies",
		Args: none,
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			if s.logger, err = newLogger(cmd.ErrOrStderr(), format, slog.LevelInfo); err != nil {
				return err
			}
			if s.tiles, err = server.NewTiles(tileURL, attribution); err != nil {
				return usagef("--tile-url and --tile-attribution: %v", err)
			}
			if err := s.listen(cmd.Context()); err != nil {
				return err
			}
			defer s.quit()
			if s.inst, err = p.open(cmd.Context(), time.Now, s.logger); err != nil {
				return err
			}
			defer s.inst.closing(&err)
			return s.run(cmd.Context(), cmd.OutOrStdout(), s.setUpLink)
		},
	}
	placeFlags(cmd, &p, env)
	f := cmd.Flags()
	f.StringVar(&s.addr, "addr", fallback(env("STOREYROD_ADDR"), defaultAddr), "address to listen on (STOREYROD_ADDR); port 0 takes a free one")
	f.BoolVar(&s.secure, "secure-cookies", env("STOREYROD_SECURE_COOKIES") == "true", "the server is reached by HTTPS only (STOREYROD_SECURE_COOKIES=true)")
	f.StringSliceVar(&s.proxies, "trusted-proxy", nil, "address of a proxy whose X-Forwarded-For is believed")
	f.Int64Var(&p.quotaMB, "site-quota", p.quotaMB, "megabytes that the photos of a site may take unless it says otherwise; 0 for no limit (STOREYROD_SITE_QUOTA)")
	f.StringVar(&tileURL, "tile-url", env("STOREYROD_TILE_URL"), "address of map tiles under the plan of photos, with {z}, {x} and {y}; browsers fetch them from there (STOREYROD_TILE_URL)")
	f.StringVar(&attribution, "tile-attribution", env("STOREYROD_TILE_ATTRIBUTION"), "whose map it is, shown beside it (STOREYROD_TILE_ATTRIBUTION)")
	f.StringVar(&format, "log", fallback(env("STOREYROD_LOG"), "text"), "form of the log on the error stream: text or json (STOREYROD_LOG)")
	return cmd
}

// listen takes the address.
func (s *service) listen(ctx context.Context) error {
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", s.addr)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	s.listener = listener
	return nil
}

// quit gives the address back, when it was taken and not served.
func (s *service) quit() {
	_ = s.listener.Close() // closed already after serving
}

// run serves until ctx ends. It tells the address first and then calls greet
// with it.
func (s *service) run(ctx context.Context, out io.Writer, greet func(ctx context.Context, out io.Writer, base string) error) error {
	srv, err := server.New(server.Options{
		Register: s.inst.reg, Logger: s.logger, Version: thisBuild().Version, Ready: s.inst.store.Ping,
		Invented: s.invented(ctx), Secure: s.secure, MaxPhoto: s.inst.reg.Limits.MaxBytes, TrustedProxies: s.proxies, Tiles: s.tiles,
	})
	if err != nil {
		return err
	}
	web := srv.HTTPServer(s.addr)
	base := "http://" + reachable(s.listener.Addr())
	fmt.Fprintf(out, "storeyrod is at %s\n", base)
	if err := greet(ctx, out, base); err != nil {
		if ctx.Err() != nil {
			return nil // told to stop before it began
		}
		return err
	}
	stopped := make(chan error, 1)
	go func() { stopped <- web.Serve(s.listener) }()
	background := s.background()
	defer background()
	select {
	case err := <-stopped:
		return fmt.Errorf("serve: %w", err)
	case <-ctx.Done():
	}
	return s.stop(web)
}

// invented reports whether every site there is belongs to the demonstration. It
// only adds a line to pages, so a store that cannot tell is no reason to stop.
func (s *service) invented(ctx context.Context) bool {
	sites, err := s.inst.reg.Sites(ctx, register.System(device()))
	return err == nil && len(sites) > 0 && !slices.ContainsFunc(sites, func(v register.SiteView) bool { return !v.Demo })
}

// stop lets requests under way come to their end.
func (s *service) stop(web *http.Server) error {
	s.logger.Info("stopping")
	ctx, cancel := context.WithTimeout(context.Background(), finishWithin)
	defer cancel()
	if err := web.Shutdown(ctx); err != nil {
		return fmt.Errorf("stop: some requests did not end in time: %w", errors.Join(err, web.Close()))
	}
	return nil
}

// background makes view copies, sweeps leftovers and judges anew what was
// decided, until the answer is called, which waits for all.
func (s *service) background() (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	var work sync.WaitGroup
	work.Go(func() { s.inst.reg.RunDeriver(ctx) })
	work.Go(func() { s.sweep(ctx, sweepEvery, "old keys", s.inst.reg.SweepKeys) })
	work.Go(func() { s.sweep(ctx, sweepEvery, "originals of interrupted intakes", s.reclaim()) })
	work.Go(func() { s.sweep(ctx, uploadsEvery, "old uploads", s.inst.reg.SweepUploads) })
	work.Go(func() { s.inst.reg.RunRejudger(ctx) })
	return func() {
		cancel()
		work.Wait()
	}
}

// reclaim takes back originals that no row names. The first time, whatever a
// killed process kept without a row goes at once.
func (s *service) reclaim() func(context.Context) (int, error) {
	before := s.inst.claim.orphaned()
	return func(ctx context.Context) (int, error) {
		if before.IsZero() {
			before = time.Now().Add(-orphanAge)
		}
		n, err := s.inst.reg.ReclaimOriginals(ctx, before)
		before = time.Time{}
		return n, err
	}
}

// sweep deletes what is old, at the start and from time to time.
func (s *service) sweep(ctx context.Context, every time.Duration, what string, work func(context.Context) (int, error)) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if n, err := work(ctx); err != nil && ctx.Err() == nil {
			s.logger.Error(what+" stay for now", "error", err)
		} else if n > 0 {
			s.logger.Info(what+" deleted", "number", n)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// setUpLink prints how to make the first account, while there is none.
func (s *service) setUpLink(ctx context.Context, out io.Writer, base string) error {
	needed, err := s.inst.reg.SetupNeeded(ctx)
	if err != nil || !needed {
		return err
	}
	secret, err := s.inst.reg.CreateSetupLink(ctx)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "nobody has an account yet; make the first one at\n  %s/set-up?link=%s\n", base, url.QueryEscape(secret))
	return err
}

// reachable is the address as a browser on this machine takes it.
func reachable(addr net.Addr) string {
	host, port, err := net.SplitHostPort(addr.String())
	if err != nil {
		return addr.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "localhost"
	}
	return net.JoinHostPort(host, port)
}
