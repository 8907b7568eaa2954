#!/bin/sh
# Prints the figures the project holds itself to, as ratios and counts. Nothing
# here passes or fails by the clock: read the lines.
set -eu
echo "== judging in memory, one core, one by one and many at once: readings/s (hold: 5 000 000)"
GOMAXPROCS=1 go test -run '^$' -bench '^BenchmarkJudge' -benchtime 2s ./defects
echo "== judge through CSV, one core: readings/s (hold: 200 000)"
GOMAXPROCS=1 go test -run '^$' -bench '^BenchmarkJudge' -benchtime 3s ./cli
echo "== statistics of a set of 10 000 readings, one core (hold: 50 ms)"
GOMAXPROCS=1 go test -run '^$' -bench '^BenchmarkSet' ./defects/statistics
echo "== the statistics page of an elevation with 10 000 readings, from request to last byte, one core (hold: 50 ms)"
GOMAXPROCS=1 go test -run '^$' -bench '^BenchmarkStatistics' -benchtime 50x ./server
echo "== the drawing of an elevation with 2 000 snags enlarged and moved in a browser (hold: 50 frames/s, where the load is below 2)"
go test -run '^$' -bench '^BenchmarkDrawing' -benchtime 3x ./server
echo "== largest gaps of a survey of 100 × 100 points, and all that its page shows (hold: 1 s)"
go test -run '^$' -bench '^BenchmarkSurvey' ./defects
echo "== snag list of an elevation, 100 000 snags on the site: ratio to the plain driver (hold: 1.3)"
go test -run '^$' -bench '^BenchmarkSnagList' -benchtime 2s ./models
echo "== the room a site has left, 10 and 100 000 photos on the site (hold: the same)"
go test -run '^$' -bench '^BenchmarkRoom' -benchtime 2s ./models
echo "== the chance of each wall face for one photo, twelve buildings (hold: 1 ms)"
go test -run '^$' -bench '^BenchmarkPosterior' ./defects
echo "== JPEG to planes at 5/8 and in full, beside the standard decoder, one core, 12 megapixels"
go test -run '^$' -bench '^BenchmarkTwelveMegapixels/(5|8|image)' -benchtime 20x -cpu 1 ./imaging/jpeg
echo "== view copies beside libvips and the standard decoder with disintegration/imaging, one core:"
echo "   share of their time (hold: 0.6 and 0.2), peak memory (hold: 50 MB, 64 MB for 48 megapixels)"
go test -run '^$' -bench '^BenchmarkCopiesBesidePeers' -benchtime 6x -timeout 30m ./imaging
echo "== Exif: agreement with exiftool on the open photos that carry tags, beside other readers"
go test -run '^$' -bench '^BenchmarkExifAgreement' -benchtime 1x ./imaging
echo "== storeyrod exif over 1 000 photos: ratio to exiftool run once (hold: 50)"
go test -run '^$' -bench '^BenchmarkExif$' -benchtime 1x .
echo "== the wall face of 1 000 photos on a site of twelve buildings, one core for each photo: photos/s (hold: 200)"
go test -run '^$' -bench '^BenchmarkLocate' -benchtime 1x .
echo "== intake over HTTP: 1 000 photos of 3 MB, 8 clients, beside the same work alone (hold: 0.8), memory on the way"
go test -run '^$' -bench '^BenchmarkIntake' -benchtime 1x -timeout 60m .
echo "== a phone's 12-megapixel photo from upload to preview over HTTP, alone and behind an import of 200 (hold: 1000 ms)"
go test -run '^$' -bench '^BenchmarkPreview' -benchtime 10x ./server
echo "== photos within ten bits of one among a million (hold: 10 ms)"
go test -run '^$' -bench '^BenchmarkAlike' -benchtime 100x ./defects/register
echo "== a preview with its caption"
go test -run '^$' -bench '^BenchmarkCaption' -benchtime 5x ./imaging
echo "== the program: size, start, idle memory, memory during a 20 MB upload"
go test -run '^$' -bench '^BenchmarkProgram' -benchtime 1x -timeout 10m .
