package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// build is what the program knows of itself.
type build struct {
	Version  string `json:"version"`
	Revision string `json:"revision"`
	Time     string `json:"time"`
	Modified bool   `json:"modified"`
	Go       string `json:"go"`
	Platform string `json:"platform"`
}

// thisBuild reads what the compiler put in.
func thisBuild() build {
	b := build{Version: "development", Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		b.Version = v
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Revision = s.Value
		case "vcs.time":
			b.Time = s.Value
		case "vcs.modified":
			b.Modified = s.Value == "true"
		}
	}
	return b
}

func versionCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "version",
		Short:   "Say which build this is",
		Example: "  storeyrod version --json",
		Args:    none,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return writeVersion(cmd.OutOrStdout(), thisBuild(), asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "as one JSON object")
	return cmd
}

func writeVersion(w io.Writer, b build, asJSON bool) error {
	if asJSON {
		return json.NewEncoder(w).Encode(b)
	}
	line := "storeyrod " + b.Version
	if b.Revision != "" && b.Version == "development" {
		line += " " + b.Revision
	}
	if b.Modified {
		line += " with changes"
	}
	_, err := fmt.Fprintf(w, "%s (%s, %s)\n", line, b.Go, b.Platform)
	return err
}
