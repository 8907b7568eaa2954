package cli

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/google/uuid"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/imaging"
	"storeyrod/models"
)

const (
	folderMode = 0o750
	// decodePixels bounds how much is decoded at once; a 12-megapixel photo
	// takes about 20 MB meanwhile.
	decodePixels = 32_000_000
)

// instance is an open data folder with the use cases over it.
type instance struct {
	reg   *register.Register
	store *models.Store
	claim *claim
}

// open opens the folder, the database and the stores, making what is missing.
func (p place) open(ctx context.Context, clock func() time.Time, logger *slog.Logger) (*instance, error) {
	data, err := p.dataFolder()
	if err != nil {
		return nil, err
	}
	quota, err := p.quota()
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(data, folderMode); err != nil {
		return nil, fmt.Errorf("data folder: %w", err)
	}
	originals, err := p.originals()
	if err != nil {
		return nil, err
	}
	var blobs *evidence.Dir
	var derived *evidence.DerivedDir
	claim, err := claimFolder(ctx, originals, func(now time.Time) (err error) {
		if blobs, err = evidence.OpenDir(originals, now); err != nil {
			return fmt.Errorf("originals: %w", err)
		}
		if derived, err = evidence.OpenDerivedDir(filepath.Join(data, "derived"), now); err != nil {
			return fmt.Errorf("view copies: %w", err)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	config := p.databaseConfig()
	config.Logger, config.Clock = logger, clock
	store, err := models.Open(ctx, config)
	if err != nil {
		return nil, errors.Join(err, claim.release())
	}
	return &instance{store: store, claim: claim, reg: register.New(register.Deps{
		Store: store, Blobs: blobs, Parts: blobs, Derived: derived,
		Limits: imaging.DefaultLimits(), Pool: imaging.NewPool(decodePixels), HEVC: heicDecoder(),
		Clock: clock, NewID: newID, Secret: newSecret, Hash: hashPassword, Verify: argon2id.ComparePasswordAndHash,
		Logger: logger, Quota: quota,
	})}, nil
}

// known refuses a data folder that holds no instance, so that a slip of the pen
// in its name makes no new one.
func (p place) known() error {
	data, err := p.dataFolder()
	if err != nil {
		return err
	}
	if p.database == "" && isEmpty(data) {
		return defects.RefuseField(defects.NotFound, "data", "no_instance", fmt.Sprintf("no instance in %s", data))
	}
	return nil
}

func (i *instance) close() error { return errors.Join(i.store.Close(), i.claim.release()) }

// closing closes the instance at the end of a verb and keeps the first error.
func (i *instance) closing(err *error) { *err = errors.Join(*err, i.close()) }

// newID is a UUID of version 7 (RFC 9562): unique, and in the order of making.
func newID() string { return uuid.Must(uuid.NewV7()).String() }

// newSecret is 256 random bits.
func newSecret() string {
	var b [32]byte
	_, _ = rand.Read(b[:]) // never fails; the program ends if the system has no randomness
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// hashPassword takes some 50 ms and 32 MiB, within what OWASP's password
// storage sheet asks of argon2id (from memory: 19 MiB and two rounds or more).
func hashPassword(password string) (string, error) {
	return argon2id.CreateHash(password, &argon2id.Params{
		Memory: 32 << 10, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32,
	})
}

// newLogger writes to the error stream, for people or for programs.
func newLogger(w io.Writer, format string, level slog.Level) (*slog.Logger, error) {
	options := &slog.HandlerOptions{Level: level}
	switch format {
	case "text":
		return slog.New(slog.NewTextHandler(w, options)), nil
	case "json":
		return slog.New(slog.NewJSONHandler(w, options)), nil
	}
	return nil, usagef("--log is text or json, not %q", format)
}

// quiet is the logger of verbs that end by themselves: warnings and worse.
func quiet(w io.Writer) *slog.Logger {
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: slog.LevelWarn}))
}

// device is how the operator's changes are marked in the log.
func device() string {
	host, err := os.Hostname()
	if err != nil {
		host = runtime.GOOS
	}
	return "command line on " + host
}
