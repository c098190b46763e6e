from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("builds", "0004_text_lengths")]

    operations = [
        migrations.AddField(
            model_name="package",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AlterField(
            model_name="package",
            name="description",
            field=models.TextField(blank=True, max_length=1000),
        ),
        migrations.AlterModelOptions(
            name="package",
            options={"ordering": ["name", "key"]},
        ),
    ]
