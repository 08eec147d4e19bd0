// One mesh and one set of edges serve all pictures. Every picture is a fine depth buffer, the lines seen in it, and
// letters put on by Cairo.
#include "exports/pictures.h"

#include "exports/internal/shaded.h"
#include "exports/internal/views_sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace exports {
namespace {

using geom::Vec3;

constexpr int kWidth_px = 1600;
constexpr int kHeight_px = 1200;

/// Centres the view on the mesh and fills `share` of the picture with it.
View fitted(View view, const DrawMesh& mesh, double share) {
    view.width = kWidth_px;
    view.height = kHeight_px;
    double lo[2] = {1e300, 1e300}, hi[2] = {-1e300, -1e300};
    for (const auto& p : mesh.points) {
        const double xy[2] = {dot(p, view.right), dot(p, view.up)};
        for (int k = 0; k < 2; ++k) {
            lo[k] = std::min(lo[k], xy[k]);
            hi[k] = std::max(hi[k], xy[k]);
        }
    }
    const Vec3 middle = mesh.box.lo + mesh.box.size() * 0.5;
    view.centre = view.right * (0.5 * (lo[0] + hi[0])) + view.up * (0.5 * (lo[1] + hi[1])) +
                  view.toward * dot(middle, view.toward);
    view.px_per_mm =
        share * std::min(kWidth_px / std::max(hi[0] - lo[0], 1e-6), kHeight_px / std::max(hi[1] - lo[1], 1e-6));
    return view;
}

/// A bar of 1, 2 or 5 times a power of ten mm, about a sixth of the picture long, and the letters of the picture.
void annotate(Raster& raster, const View& view, const PictureInput& input, const std::string& what) {
    Sheet sheet(raster.width, raster.height);  // one unit a pixel
    const Rgb ink{0.13, 0.12, 0.11}, soft{0.38, 0.36, 0.34};
    const double wanted_mm = raster.width / 6.0 / view.px_per_mm;
    double bar_mm = std::pow(10.0, std::floor(std::log10(wanted_mm)));
    for (const double step : {5.0, 2.0})
        if (bar_mm * step <= wanted_mm) {
            bar_mm *= step;
            break;
        }
    const double x = 60.0, y = raster.height - 60.0, length = bar_mm * view.px_per_mm;
    const Sheet::Pen pen{.width_mm = 2.5, .colour = ink, .opacity = 1.0, .dashes_mm = {}};
    sheet.draw({{{x, y - 9}, {x, y}, {x + length, y}, {x + length, y - 9}}}, pen);
    sheet.write({x + 0.5 * length, y - 16.0}, fmt::format("{:g} mm", bar_mm),
                {.size_mm = 26.0, .colour = ink, .anchor = Sheet::Anchor::Middle});
    sheet.write({60.0, 74.0}, input.title, {.size_mm = 34.0, .colour = ink, .is_bold = true});
    sheet.write({60.0, 112.0}, what, {.size_mm = 24.0, .colour = soft});
    sheet.paint_on(raster);
}

/// The products drawn apart along the baffle's normal, the outermost farthest, so that what they hide of each other is
/// seen. Meshes and edges move together.
void draw_apart(std::vector<PicturedProduct>& products, std::vector<std::vector<EdgeLine>>& edges, Vec3 outward) {
    std::vector<std::pair<double, std::size_t>> order;
    double size = 0.0;
    for (std::size_t i = 0; i < products.size(); ++i) {
        const geom::Aabb box = bounds(products[i].mesh);
        order.push_back({dot(box.lo + box.size() * 0.5, outward), i});
        size = std::max(size, norm(box.size()));
    }
    std::sort(order.begin(), order.end());
    for (std::size_t k = 1; k < order.size(); ++k) {
        const Vec3 move = outward * (0.35 * size * static_cast<double>(k));
        for (auto& p : products[order[k].second].mesh.vertices) p += move;
        for (auto& edge : edges[order[k].second])
            for (auto& p : edge.points) p += move;
    }
}

std::vector<EdgeLine> joined(const std::vector<std::vector<EdgeLine>>& edges) {
    std::vector<EdgeLine> all;
    for (const auto& of_one : edges) all.insert(all.end(), of_one.begin(), of_one.end());
    return all;
}

}  // namespace

geom::Result<std::vector<Picture>> make_pictures(const PictureInput& input, const geom::Context& context) {
    const DrawMesh mesh = draw_mesh(input.products);
    EXPECTS(!mesh.triangles.empty());
    std::vector<std::vector<EdgeLine>> edges_of;
    std::vector<std::array<float, 3>> colours;
    for (const PicturedProduct& product : input.products) {
        GAPWRIGHT_TRY(lines, edge_lines(product.solid));
        edges_of.push_back(std::move(lines));
        colours.push_back(product.colour);
    }
    const std::vector<EdgeLine> edges = joined(edges_of);
    std::vector<Picture> pictures;
    const auto add_png = [&](const std::string& suffix, const Raster& raster) -> geom::Status {
        std::string bytes = png_bytes(raster);
        if (bytes.empty())
            return geom::Fault{
                geom::FaultCode::Internal, "the picture " + suffix + " could not be made", {}, {}, "files"};
        pictures.push_back({suffix, "png", std::move(bytes)});
        return geom::Done{};
    };

    const View front = look(input.outward, input.up);
    const View corner = look(front.toward + front.right * 0.75 + front.up * 0.62, front.up);
    std::string facts;
    for (const auto& fact : input.facts) facts += (facts.empty() ? "" : ", ") + fact;
    {
        if (context.is_cancelled()) return geom::Context::interrupted();
        Raster raster;
        if (input.products.size() == 1) {
            const View iso = fitted(corner, mesh, 0.74);
            raster = shaded({mesh, edges, colours, iso});
            annotate(raster, iso, input, facts);
        } else {
            std::vector<PicturedProduct> apart = input.products;
            draw_apart(apart, edges_of, front.toward);
            const DrawMesh apart_mesh = draw_mesh(apart);
            const View iso = fitted(corner, apart_mesh, 0.8);
            raster = shaded({apart_mesh, joined(edges_of), colours, iso});
            annotate(raster, iso, input, facts.empty() ? "drawn apart" : facts + "; drawn apart");
        }
        GAPWRIGHT_CHECK(add_png("iso", raster));
    }
    if (input.scan_points != nullptr && !input.scan_points->empty()) {
        if (context.is_cancelled()) return geom::Context::interrupted();
        const View wide = fitted(look(front.toward + front.right * 0.55 + front.up * 0.55, front.up), mesh, 0.56);
        Raster raster =
            shaded({mesh, edges, colours, wide, input.scan_points, input.scan_normals, input.scan_spacing_mm});
        annotate(raster, wide, input, "in the scanned gap; its near side is cut away");
        GAPWRIGHT_CHECK(add_png("scan", raster));
    }
    if (context.is_cancelled()) return geom::Context::interrupted();
    const Sheet sheet = views_sheet(input, mesh, edges);
    pictures.push_back({"views", "svg", sheet.svg(input.title)});
    Raster raster{kWidth_px, static_cast<int>(std::lround(kWidth_px * sheet.height_mm() / sheet.width_mm())), {}};
    raster.pixels.assign(static_cast<std::size_t>(raster.width) * static_cast<std::size_t>(raster.height), 0xffffffu);
    sheet.paint_on(raster);
    GAPWRIGHT_CHECK(add_png("views", raster));
    return pictures;
}

}  // namespace exports
