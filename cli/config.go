package cli

import (
	"net/url"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"storeyrod/models"
)

const defaultData = "data"

// place is where an instance keeps its things.
//
//	DATA/storeyrod.db   the built-in database, unless another one is named
//	DATA/originals/     photos as received, unless another store is named
//	DATA/derived/       view copies, which can be made again
type place struct {
	data     string
	database string // address of a PostgreSQL database; "" = built-in
	blobs    string // folder of the originals; "" = in data
	quotaMB  int64  // megabytes of photos a site may have unless it says otherwise; 0 = no limit, below 0 = unreadable
}

// placeFlags adds the flags that name an instance; the environment gives their
// defaults.
func placeFlags(cmd *cobra.Command, p *place, env func(string) string) {
	f := cmd.Flags()
	f.StringVar(&p.data, "data", fallback(env("STOREYROD_DATA"), defaultData), "data folder (STOREYROD_DATA)")
	f.StringVar(&p.database, "database", env("STOREYROD_DATABASE"), "postgres:// address; empty for the built-in database (STOREYROD_DATABASE)")
	p.quotaMB = megabytes(env("STOREYROD_SITE_QUOTA"))
	f.StringVar(&p.blobs, "blobs", env("STOREYROD_BLOBS"), "folder of the originals; empty for one in the data folder (STOREYROD_BLOBS)")
}

// megabytes reads a number; what is none is below 0, and refused when it is used.
func megabytes(text string) int64 {
	if text == "" {
		return 0
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return -1
	}
	return n
}

// quota is the instance's quota in bytes.
func (p place) quota() (int64, error) {
	const most = 1 << 40 // an exabyte in megabytes
	if p.quotaMB < 0 || p.quotaMB > most {
		return 0, usagef("--site-quota and STOREYROD_SITE_QUOTA are a number of megabytes; 0 for no limit")
	}
	return p.quotaMB << 20, nil
}

func fallback(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

func (p place) dataFolder() (string, error) {
	if p.data == "" {
		return "", usagef("--data names no folder")
	}
	return p.data, nil
}

// databaseConfig says which database to open.
func (p place) databaseConfig() models.Config {
	if p.database != "" {
		return models.Config{URL: p.database}
	}
	return models.Config{Path: filepath.Join(p.data, "storeyrod.db")}
}

// originals is the folder of the originals.
func (p place) originals() (string, error) {
	scheme, _, isURL := strings.Cut(p.blobs, "://")
	switch {
	case p.blobs == "":
		return filepath.Join(p.data, "originals"), nil
	case !isURL:
		return p.blobs, nil
	case scheme != "file":
		return "", usagef("--blobs: originals are kept in a folder for now; stores of the kind %s:// come later [not_yet]", scheme)
	}
	u, err := url.Parse(p.blobs)
	if err != nil || (u.Host != "" && u.Host != "localhost") || u.Path == "" {
		return "", usagef("--blobs: %q is no address of a folder on this machine", p.blobs)
	}
	return filepath.FromSlash(u.Path), nil
}
