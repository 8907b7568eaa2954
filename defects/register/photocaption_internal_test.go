package register

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestAPrintSaysOnceThatADemonstrationIsInvented(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		site defects.Site
		want string
	}{
		{defects.Site{Name: "Larkrow Court (invented)", Demo: true}, "Larkrow Court (invented)"},
		{defects.Site{Name: "Larkrow Court", Demo: true}, "Larkrow Court (invented)"},
		{defects.Site{Name: "Quarry Terrace"}, "Quarry Terrace"},
	} {
		require.Equal(t, c.want, siteOnPrint(c.site))
	}
}
