package cli

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"os/exec"
	"runtime"
	"runtime/debug"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/imaging"
	"storeyrod/imaging/hevc"
)

// heicVerb is the hidden verb that is the decoder's side of the pipe.
const heicVerb = "decode-heic"

// What decoding a photo may cost in seconds of processor time: honest ones
// take 0.25 to 0.5 a megapixel.
const (
	heicSeconds       = 2
	heicPixelsASecond = 1_000_000
	heicWallPerCPU    = 30 // on a busy machine, before the process counts as hung
	heicLeastWall     = time.Minute
)

// heicMemory keeps the decoder process from waiting with the collection of its
// own garbage; the memory of the module comes beside it, bounded by the sandbox.
const heicMemory = 48 << 20

func heicCommand() *cobra.Command {
	var seconds uint64
	cmd := &cobra.Command{
		Use:    heicVerb,
		Short:  "Decode tiles of HEIC photos from one stream to another, for the program itself",
		Hidden: true,
		Args:   none,
		RunE: func(cmd *cobra.Command, _ []string) error {
			debug.SetMemoryLimit(heicMemory)
			box, err := hevc.NewSandbox(cmd.Context())
			if err != nil {
				return err
			}
			// From here on a stranger's bytes are worked on.
			if err := limitProcessor(seconds); err != nil {
				return fmt.Errorf("limit the processor time: %w", err)
			}
			return hevc.Serve(cmd.Context(), box, cmd.InOrStdin(), cmd.OutOrStdout())
		},
	}
	cmd.Flags().Uint64Var(&seconds, "seconds", heicSeconds, "processor time it may take")
	return cmd
}

// heicDecoder decodes HEIC photos in child processes, one photo at a time in a
// child of its own: the decoder can't be stopped from within, and a child that
// is ended takes nothing with it.
func heicDecoder() imaging.OpenHEVC {
	turn := make(chan struct{}, 1)
	return func(ctx context.Context, pixels int64) (imaging.HEVC, error) {
		select {
		case turn <- struct{}{}:
		case <-ctx.Done():
			return nil, fmt.Errorf("wait for the HEIC decoder: %w", ctx.Err())
		}
		c, err := startHEIC(ctx, pixels)
		if err != nil {
			<-turn
			return nil, err
		}
		c.release = func() { <-turn }
		return c, nil
	}
}

// heicChild is a decoder process, the parent's side.
type heicChild struct {
	client  *hevc.Client
	cmd     *exec.Cmd
	stdin   io.Closer
	stop    context.CancelFunc
	release func()
}

func startHEIC(ctx context.Context, pixels int64) (*heicChild, error) {
	self := "/proc/self/exe" // also right after the file was replaced by a newer one
	if runtime.GOOS != "linux" {
		var err error
		if self, err = os.Executable(); err != nil {
			return nil, fmt.Errorf("find this program: %w", err)
		}
	}
	seconds := heicSeconds + (pixels+heicPixelsASecond-1)/heicPixelsASecond
	ctx, stop := context.WithTimeout(ctx, max(heicLeastWall, time.Duration(seconds)*heicWallPerCPU*time.Second))
	cmd := exec.CommandContext(ctx, self)
	cmd.Args = []string{"storeyrod", heicVerb, "--seconds", strconv.FormatInt(seconds, 10)}
	cmd.Env = []string{}
	stdin, errIn := cmd.StdinPipe()
	stdout, errOut := cmd.StdoutPipe()
	if err := errors.Join(errIn, errOut); err != nil {
		stop()
		return nil, fmt.Errorf("start the HEIC decoder: %w", err)
	}
	if err := cmd.Start(); err != nil {
		stop()
		return nil, fmt.Errorf("start the HEIC decoder: %w", err)
	}
	return &heicChild{client: hevc.NewClient(stdout, stdin), cmd: cmd, stdin: stdin, stop: stop}, nil
}

// Picture has one picture decoded. When the process ends over it, the photo is
// refused and not damaged: all that is known is that it asks for too much.
func (c *heicChild) Picture(ctx context.Context, file []byte) (image.Image, error) {
	img, err := c.client.Picture(ctx, file)
	if err == nil || errors.Is(err, hevc.ErrPicture) {
		return img, err
	}
	if ctx.Err() != nil {
		return nil, fmt.Errorf("decode: %w", ctx.Err())
	}
	return nil, &defects.Error{
		Kind: defects.TooLarge, Code: "decoding_too_costly", Field: "file", Err: err,
		Text: "decoding the photo takes more work or memory than one of its size may; the original is kept",
	}
}

// Close ends the process.
func (c *heicChild) Close() error {
	defer c.release()
	defer c.stop()
	_ = c.stdin.Close()
	c.stop()
	// How it ended was told by the answers, or their lack.
	_ = c.cmd.Wait()
	return nil
}
