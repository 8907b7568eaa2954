/* Makes both view copies of a JPEG with libvips, as a peer to measure beside:
 * vips PHOTO TIMES prints the least processor time of a run in milliseconds and
 * the most memory of the process in kB. The thumbnail is made from the preview,
 * which is faster than decoding twice. One thread, nothing remembered between
 * runs. */
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <vips/vips.h>

static struct rusage usage;

static double cpu(void)
{
	getrusage(RUSAGE_SELF, &usage);
	return (usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) * 1e3 +
		(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e3;
}

static int copies(const char *photo)
{
	VipsImage *lazy, *preview, *thumb;
	void *a, *b;
	size_t na, nb;
	if (vips_thumbnail(photo, &lazy, 2048, "height", 2048, "size", VIPS_SIZE_DOWN, NULL) ||
		!(preview = vips_image_copy_memory(lazy)) ||
		vips_thumbnail_image(preview, &thumb, 320, "height", 320, NULL) ||
		vips_jpegsave_buffer(preview, &a, &na, "Q", 85, "strip", TRUE, NULL) ||
		vips_jpegsave_buffer(thumb, &b, &nb, "Q", 80, "strip", TRUE, NULL))
		return 1;
	g_free(a);
	g_free(b);
	g_object_unref(thumb);
	g_object_unref(preview);
	g_object_unref(lazy);
	return 0;
}

int main(int argc, char **argv)
{
	double least = 1e9;
	if (argc != 3 || VIPS_INIT(argv[0]))
		return 1;
	vips_concurrency_set(1);
	vips_cache_set_max(0);
	for (int i = 0; i < atoi(argv[2]); i++) {
		double begin = cpu(), took;
		if (copies(argv[1]))
			vips_error_exit("copies");
		took = cpu() - begin;
		if (took < least)
			least = took;
	}
	printf("%.1f %ld\n", least, usage.ru_maxrss);
	return 0;
}
